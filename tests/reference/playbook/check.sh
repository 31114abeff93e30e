#!/usr/bin/env bash
# Checks the JSON Schema of playbooks with the pinned jsonschema: that it is a schema (2020-12), and
# that it never refuses what the program accepts.
set -euo pipefail
cd "$(dirname "$0")"

venv="${SETDRIFT_CACHE:-$HOME/.cache/setdrift}/reference-playbook"
if ! cmp -s requirements.txt "$venv/requirements.txt"; then
  rm -rf "$venv"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check -r requirements.txt
  cp requirements.txt "$venv/requirements.txt"
fi

cd ../../..
program=$(cargo build --quiet --locked --message-format json |
  sed -n 's/.*"executable":"\([^"]*setdrift\)".*/\1/p' | tail -1)
"$venv/bin/python" tests/reference/playbook/check.py "$program"
