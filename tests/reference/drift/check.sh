#!/usr/bin/env bash
# `cargo test -p setdrift-drift` checks our results against these values.
set -euo pipefail
cd "$(dirname "$0")"
. ../values.sh drift
echo "values of scipy and scikit-learn: as committed"
