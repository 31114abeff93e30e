#!/usr/bin/env bash
# Remakes the fixtures with the pinned libraries and compares them with those committed.
# With --write, replaces the committed ones.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
venv=${SETDRIFT_CACHE:-$HOME/.cache/setdrift}/timing-venv
if ! cmp -s "$here/requirements.txt" "$venv/made-from.txt" 2>/dev/null; then
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --requirement "$here/requirements.txt"
  cp "$here/requirements.txt" "$venv/made-from.txt"
fi
if [ "${1:-}" = "--write" ]; then
  "$venv/bin/python" "$here/make.py" "$here/fixtures"
  exit
fi
fresh=$(mktemp -d)
trap 'rm -rf "$fresh"' EXIT
"$venv/bin/python" "$here/make.py" "$fresh"
diff -r "$here/fixtures" "$fresh"
echo "timing: fixtures are as scipy and ruptures give them"
