#!/usr/bin/env bash
# Remakes values.json with the pinned versions and compares it with the one committed, which
# `cargo test -p setdrift-drift` checks our results against.
set -euo pipefail
cd "$(dirname "$0")"

cache="${SETDRIFT_CACHE:-$HOME/.cache/setdrift}"
venv="$cache/reference-drift"
stamp="$venv/requirements.txt"
if ! cmp -s requirements.txt "$stamp"; then
  rm -rf "$venv"
  mkdir -p "$cache"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check -r requirements.txt
  cp requirements.txt "$stamp"
fi

made="$(mktemp)"
trap 'rm -f "$made"' EXIT
"$venv/bin/python" make.py "$made"
if ! cmp "$made" values.json; then
  echo "tests/reference/drift/values.json is not what make.py makes now: run make.py and look at the difference" >&2
  exit 1
fi
echo "values of scipy and scikit-learn: as committed"
