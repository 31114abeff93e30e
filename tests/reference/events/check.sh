#!/usr/bin/env bash
# `cargo test -p setdrift-events` checks our results against these values.
set -euo pipefail
cd "$(dirname "$0")"
. ../values.sh events
echo "values of hmmlearn: as committed"
