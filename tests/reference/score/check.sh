#!/usr/bin/env bash
# `cargo test -p setdrift-recognise` checks our results against these values.
set -euo pipefail
cd "$(dirname "$0")"
. ../values.sh score
echo "values of scikit-learn and rapidfuzz: as committed"
