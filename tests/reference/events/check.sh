#!/usr/bin/env bash
# Remakes values.json with the pinned hmmlearn and compares it with the one committed, which
# `cargo test -p setdrift-events` checks our chain against.
set -euo pipefail
cd "$(dirname "$0")"

venv="${SETDRIFT_CACHE:-$HOME/.cache/setdrift}/reference-events"
if ! cmp -s requirements.txt "$venv/requirements.txt"; then
  rm -rf "$venv"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check -r requirements.txt
  cp requirements.txt "$venv/requirements.txt"
fi

made="$(mktemp)"
trap 'rm -f "$made"' EXIT
"$venv/bin/python" make.py "$made"
if ! cmp "$made" values.json; then
  echo "tests/reference/events/values.json is not what make.py makes now: run make.py and look at the difference" >&2
  exit 1
fi
echo "values of hmmlearn: as committed"
