#!/usr/bin/env bash
# The OpenTimelineIO file as its own library (PyPI opentimelineio 0.18.1) reads it.
set -euo pipefail
cd "$(dirname "$0")"
cache=${SETDRIFT_CACHE:-$HOME/.cache/setdrift}
venv=$cache/venv-video-marks
if [ ! -x "$venv/bin/python" ] || ! "$venv/bin/python" -c 'import opentimelineio' 2>/dev/null; then
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet opentimelineio==0.18.1
fi
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
cargo run --quiet --locked --manifest-path ../../../Cargo.toml -p setdrift-report --example fixture_page -- "$out"
"$venv/bin/python" check.py "$out"
