#!/usr/bin/env bash
# Remakes the fixtures with the pinned libraries and compares them with those committed, which
# `cargo test -p setdrift-tracks` checks our readers, homography and smoothing against; then reads
# what our writer makes with other readers. With --write, replaces the committed ones.
set -euo pipefail
cd "$(dirname "$0")"
. ../fixtures.sh tracks "${1:-}"
"$venv/bin/python" check.py ours
echo "tracks: fixtures are as OpenCV, scipy, pandas, pyarrow, movingpandas and motmetrics give them"
