# Sourced in a folder of tests/reference, with its name: remakes values.json with the pinned packages and
# compares it with the one committed, which `cargo test` checks our results against.
. ../venv.sh "$1"
made="$(mktemp)"
trap 'rm -f "$made"' EXIT
"$venv/bin/python" make.py "$made"
if ! cmp "$made" values.json; then
  echo "tests/reference/$1/values.json is not what make.py makes now: run make.py and look at the difference" >&2
  exit 1
fi
