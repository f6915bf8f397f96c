#!/usr/bin/env bash
# Opens the printed sheet of the demo yard in headless Chromium and checks that
# it fits: nothing is wider than its place on the screen, no word lies outside
# an A4 or a letter page, and every colony is on it. Needs chromium and
# pdftotext (Debian: chromium, poppler-utils).
set -euo pipefail
cd "$(dirname "$0")/../.."
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT

# browser runs one with a folder of its own, so that two can run at once.
browser() {
    local profile
    profile=$(mktemp -d -p "$dir")
    chromium --headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking \
        --disable-component-update --disable-sync --user-data-dir="$profile" "$@" 2>/dev/null
}

go build -o "$dir/halfcup" ./cmd/halfcup
"$dir/halfcup" yard --log testdata/demo/mill.csv --today 2026-09-21 --html "$dir/sheet.html" >/dev/null

# On the screen: a script lists what is wider than its box.
sed 's#</body>#<script>document.title = "wide:" + [...document.querySelectorAll("body, body *:not(svg *)")].filter(e => e.scrollWidth > e.clientWidth + 1 \&\& e.clientWidth > 0).map(e => e.tagName + " " + e.textContent.slice(0, 40)).join("|") + ":end"</script></body>#' "$dir/sheet.html" > "$dir/screen.html"
title=$(browser --dump-dom "file://$dir/screen.html" | grep -o '<title>wide:.*:end' | head -1)
[ "$title" = "<title>wide::end" ] || { echo "wider than its place, or not opened: $title"; exit 1; }

# On paper.
paper() {
    local size=$1 dead colony
    sed "s/@page { margin/@page { size: $size; margin/" "$dir/sheet.html" > "$dir/$size.html"
    browser --no-pdf-header-footer --print-to-pdf="$dir/$size.pdf" "file://$dir/$size.html"
    pdftotext -bbox "$dir/$size.pdf" "$dir/$size.xml"
    awk -F'"' -v size="$size" '
        /<page /  { width = $2; height = $4; pages++ }
        /<word /  { words++; if ($2 < 0 || $4 < 0 || $6 > width || $8 > height) { print size ": off the page: " $0; bad = 1 } }
        END { print size ": " words " words on " pages " pages"; exit bad || words < 300 }' "$dir/$size.xml"
    pdftotext "$dir/$size.pdf" "$dir/$size.txt"
    # The last row of a dead colony is no row of the sheet.
    dead=$(awk -F, '$4 == "died" { print $3 }' testdata/demo/mill.csv)
    for colony in $(awk -F, 'NR > 1 { print $3 }' testdata/demo/mill.csv | sort -u | grep -vxF "$dead"); do
        grep -qw "$colony" "$dir/$size.txt" || { echo "$size: $colony is not on the sheet"; exit 1; }
    done
}
paper A4 & a4=$!
paper letter & letter=$!
wait $a4
wait $letter

# Sixty colonies on three pages, a count advised for each: in the order of the
# stand, with boxes for what is written down.
awk 'BEGIN { print "date,yard,colony,event,method,mites,amount,frames,stand"
    for (i = 1; i <= 60; i++) printf "2026-06-10,mill,hive %02d,count,roll,%d,300,1,%d\n", i, i % 4, 61 - i }' > "$dir/sixty.csv"
"$dir/halfcup" yard --log "$dir/sixty.csv" --today 2026-07-10 --html "$dir/sixty.html" --charts none >/dev/null
browser --no-pdf-header-footer --print-to-pdf="$dir/sixty.pdf" "file://$dir/sixty.html"
pdftotext -bbox "$dir/sixty.pdf" "$dir/sixty.xml"
pages=$(grep -c '<page ' "$dir/sixty.xml")
boxes=$(grep -o 'class="box[^"]*"' "$dir/sixty.html" | wc -l)
echo "sixty colonies: $pages pages"
[ "$pages" -le 3 ] && [ "$boxes" -ge 300 ] || { echo "sixty colonies: $pages pages, $boxes boxes"; exit 1; }
pdftotext "$dir/sixty.pdf" "$dir/sixty.txt"
[ "$(grep -o 'hive [0-9][0-9]:' "$dir/sixty.txt" | head -1)" = "hive 60:" ] || { echo "the sheet is not in the order of the stand"; exit 1; }

# The year looked back on has a picture of every colony, none wider than a phone.
"$dir/halfcup" review --log testdata/demo/mill.csv --today 2026-12-31 --html "$dir/year.html" >/dev/null
sed 's#</body>#<script>document.title = "wide:" + (document.documentElement.scrollWidth > innerWidth ? document.documentElement.scrollWidth : "") + ":" + document.querySelectorAll("figure svg").length</script></body>#' "$dir/year.html" > "$dir/year-screen.html"
title=$(browser --window-size=500,900 --dump-dom "file://$dir/year-screen.html" | grep -o '<title>wide:[0-9]*:[0-9]*' | head -1)
[ "$title" = "<title>wide::14" ] || { echo "the page of the year: $title"; exit 1; }
