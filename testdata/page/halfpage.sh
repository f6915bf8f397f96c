#!/usr/bin/env bash
# Builds the page for the phone and tries it in headless Chromium: of a phone's
# size, with touch and without a network. Needs chromium (Debian: chromium).
# What it is not: a phone.
set -euo pipefail
cd "$(dirname "$0")/../.."
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT

go run ./cmd/halfpage --out "$dir/halfcup.html" --site "$dir/site"
size=$(stat -c %s "$dir/halfcup.html")
[ "$size" -lt 2000000 ] || { echo "the page has $size bytes, and 2 megabytes are the most"; exit 1; }
HALFPAGE="$dir/halfcup.html" HALFPAGE_SITE="$dir/site" go test -count=1 -timeout 20m -v -run 'Page|Nothing|Program|Yard|Kept|Read' ./cmd/halfpage
