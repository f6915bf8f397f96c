#!/usr/bin/env bash
# Builds the page for the phone and tries it in headless Chromium: of a phone's
# size, with touch and without a network. Needs chromium (Debian: chromium).
# What it is not: a phone. What stands behind its name is for go test:
#   testdata/page/halfpage.sh -run ProgramSays -records 5000 -seed 7 -timeout 2h
set -euo pipefail
cd "$(dirname "$0")/../.."
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT

go run ./cmd/halfpage --out "$dir/halfcup.html" --site "$dir/site"
size=$(stat -c %s "$dir/halfcup.html")
[ "$size" -lt 2000000 ] || { echo "the page has $size bytes, and 2 megabytes are the most"; exit 1; }

# axe-core looks at every screen for whoever uses a screen reader or sees badly.
# It is fetched for this run and no part of the page.
if command -v npm >/dev/null && (cd "$dir" && npm pack --silent axe-core@4.14.1 >/dev/null && tar -xzf axe-core-4.14.1.tgz); then
    export HALFPAGE_AXE="$dir/package/axe.min.js"
else
    echo "axe-core could not be fetched: the page was NOT looked at by it"
fi
HALFPAGE="$dir/halfcup.html" HALFPAGE_SITE="$dir/site" go test -count=1 -v ./cmd/halfpage -timeout 30m -parallel 4 -skip 'Packed|Terms' "$@" # no skipped one needs a browser
