#!/usr/bin/env bash
# Times this crate and its peers in one go and prints ratios (see bench.py). check.sh makes the
# environment of the peers. What is given is passed to cargo: `--no-default-features --features avx2`
# leaves AVX-512 out.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
cache=${SETDRIFT_CACHE:-$HOME/.cache/setdrift}
venv=$cache/warp-$(sha256sum "$here/requirements.txt" | cut -c1-12)
[ -e "$venv/ready" ] || { echo "run $here/check.sh first: it installs the peers" >&2; exit 1; }
cd "$here/../../.."
program=$(cargo build --quiet --release --package setdrift-warp --example throughput --message-format json "$@" |
  sed -n 's/.*"executable":"\([^"]*throughput\)".*/\1/p' | tail -1)
"$venv/bin/python" "$here/bench.py" "$program"
