#!/usr/bin/env bash
# Remakes values.json with the pinned scikit-learn and rapidfuzz and compares it with the one committed, which
# `cargo test -p setdrift-recognise` checks our scores against.
set -euo pipefail
cd "$(dirname "$0")"

venv="${SETDRIFT_CACHE:-$HOME/.cache/setdrift}/reference-score"
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
  echo "tests/reference/score/values.json is not what make.py makes now: run make.py and look at the difference" >&2
  exit 1
fi
echo "values of scikit-learn and rapidfuzz: as committed"
