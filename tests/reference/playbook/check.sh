#!/usr/bin/env bash
# Checks the JSON Schema of playbooks with the pinned jsonschema: that it is a schema (2020-12), and
# that it never refuses what the program accepts.
set -euo pipefail
cd "$(dirname "$0")"

. ../venv.sh playbook
cd ../../..
program=$(cargo build --quiet --locked --message-format json |
  sed -n 's/.*"executable":"\([^"]*setdrift\)".*/\1/p' | tail -1)
"$venv/bin/python" tests/reference/playbook/check.py "$program"
