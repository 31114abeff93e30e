#!/usr/bin/env bash
# Writes pages from the hand-made results and uses them in Chromium: layout, keyboard,
# accessibility rules, printing, hostile names. Installs Debian's chromium and the pinned npm
# packages where they are missing.
set -euo pipefail
cd "$(dirname "$0")"

if ! command -v chromium >/dev/null; then
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core >/dev/null
fi
[ -d node_modules ] || npm ci --no-audit --no-fund --silent
out=${SETDRIFT_PAGES:-$PWD/out}
cargo run --quiet --locked --manifest-path ../../Cargo.toml -p setdrift-report --example fixture_page -- "$out"
bash ../reference/video-marks/sample.sh "$(realpath "$out")/sample"
SETDRIFT_PAGES=$out CHROMIUM=$(command -v chromium) node --test --test-concurrency=1 .
