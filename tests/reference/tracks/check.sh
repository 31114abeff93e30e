#!/usr/bin/env bash
# Remakes the fixtures with the pinned libraries and compares them with those committed, which
# `cargo test -p setdrift-tracks` checks our readers, homography and smoothing against; then reads
# what our writer makes with other readers. With --write, replaces the committed ones.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
venv=${SETDRIFT_CACHE:-$HOME/.cache/setdrift}/reference-tracks
if ! cmp -s "$here/requirements.txt" "$venv/requirements.txt"; then
  rm -rf "$venv"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check -r "$here/requirements.txt"
  cp "$here/requirements.txt" "$venv/requirements.txt"
fi
if [ "${1:-}" = "--write" ]; then
  "$venv/bin/python" "$here/make.py" "$here/fixtures"
  exit
fi
fresh=$(mktemp -d)
trap 'rm -rf "$fresh"' EXIT
"$venv/bin/python" "$here/make.py" "$fresh"
diff -r "$here/fixtures" "$fresh"
"$venv/bin/python" "$here/check.py" "$here/ours"
echo "tracks: fixtures are as OpenCV, scipy, pandas, pyarrow, movingpandas and motmetrics give them"
