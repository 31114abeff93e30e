#!/usr/bin/env bash
# Remakes the fixtures with the pinned reference libraries, compares them with those committed, and
# compares 1-NN results on public sets. Needs Python 3.11 and an index to install from, once.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../../.." && pwd)
cache=${SETDRIFT_CACHE:-$HOME/.cache/setdrift}
venv=$cache/warp-$(sha256sum "$here/requirements.txt" | cut -c1-12)
if [ ! -e "$venv/ready" ]; then
  rm -rf "$venv"
  mkdir -p "$cache"
  python3 -m venv "$venv"
  "$venv/bin/pip" install --quiet --disable-pip-version-check -r "$here/requirements.txt"
  touch "$venv/ready"
fi
fresh=$(mktemp -d)
trap 'rm -rf "$fresh"' EXIT
"$venv/bin/python" "$here/fixtures.py" make "$fresh"
"$venv/bin/python" "$here/fixtures.py" compare "$fresh" "$here/fixtures"
cd "$root"
cargo test --quiet --package setdrift-warp --test outside
# The same bits from AVX2 alone and from plain numbers as from what the machine has.
for sets in '--features avx2' ''; do
  # shellcheck disable=SC2086
  cargo test --quiet --package setdrift-warp --no-default-features $sets --test same_bits
done
program=$(cargo build --quiet --package setdrift-warp --example neighbour --message-format json |
  sed -n 's/.*"executable":"\([^"]*neighbour\)".*/\1/p' | tail -1)
"$venv/bin/python" "$here/neighbours.py" "$program"
