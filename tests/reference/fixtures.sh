# Sourced in a folder of tests/reference, with its name and what the check was asked for: remakes the fixtures
# with the pinned packages and compares them with those committed; --write replaces those.
. ../venv.sh "$1"
if [ "${2:-}" = "--write" ]; then
  "$venv/bin/python" make.py fixtures
  exit
fi
fresh=$(mktemp -d)
trap 'rm -rf "$fresh"' EXIT
"$venv/bin/python" make.py "$fresh"
diff -r fixtures "$fresh"
