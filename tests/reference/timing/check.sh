#!/usr/bin/env bash
# Remakes the fixtures with the pinned libraries and compares them with those committed.
# With --write, replaces the committed ones.
set -euo pipefail
cd "$(dirname "$0")"
. ../fixtures.sh timing "${1:-}"
echo "timing: fixtures are as scipy and ruptures give them"
