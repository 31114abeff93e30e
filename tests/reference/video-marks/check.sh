#!/usr/bin/env bash
# The OpenTimelineIO file as its own library reads it.
set -euo pipefail
cd "$(dirname "$0")"
. ../venv.sh video-marks
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
cargo run --quiet --locked --manifest-path ../../../Cargo.toml -p setdrift-report --example fixture_page -- "$out"
"$venv/bin/python" check.py "$out"
