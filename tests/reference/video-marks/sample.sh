#!/usr/bin/env bash
# Reviews the bundled practice and marks it as a person would: sample.sh FOLDER. Chapters, table,
# timeline and cut list lie in FOLDER/practice.
set -euo pipefail
cd "$(dirname "$0")/../../.."
run() { cargo run --quiet --locked -p setdrift -- --quiet "$@" >/dev/null; }
run review sample-tracks/practice.csv --playbook sample-tracks/lantern.toml --out "$1/review"
run marks "$1/review" --at 0:12.4=3:05 --at 9:00=11:52.7 --video practice.mp4 --rate 25 --out "$1"
# Clips of moments overlap.
run marks "$1/review" --at 0:12.4=3:05 --cue early,late,never --place not-kept --video practice.mp4 \
  --rate 25 --before 4 --after 4 --out "$1/moments"
