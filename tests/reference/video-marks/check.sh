#!/usr/bin/env bash
# The OpenTimelineIO files as their own library reads them: of the tests' hand-made results, and what the
# command makes of the bundled practice.
set -euo pipefail
cd "$(dirname "$0")"
. ../venv.sh video-marks
out=$(mktemp -d)
trap 'rm -rf "$out"' EXIT
cargo run --quiet --locked --manifest-path ../../../Cargo.toml -p setdrift-report --example fixture_page -- "$out"
bash sample.sh "$out/sample"
"$venv/bin/python" check.py "$out" game-1.mp4
"$venv/bin/python" check.py "$out/sample/practice" practice.mp4
"$venv/bin/python" check.py "$out/sample/moments/practice" practice.mp4
