#!/usr/bin/env bash
# Remakes the fixtures with the pinned libraries and compares them with those committed.
# With --write, replaces the committed ones.
set -euo pipefail
cd "$(dirname "$0")"
how="${1:-}"
. ../venv.sh timing
if [ "$how" = "--write" ]; then
  "$venv/bin/python" make.py fixtures
  exit
fi
fresh=$(mktemp -d)
trap 'rm -rf "$fresh"' EXIT
"$venv/bin/python" make.py "$fresh"
diff -r fixtures "$fresh"
echo "timing: fixtures are as scipy and ruptures give them"
