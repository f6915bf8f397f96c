#!/usr/bin/env bash
# Prints the figures of speed and size that README.md and DEVELOPERS.md tell, in the order in which those tell them:
# figures.sh [RUNS] [ROWS], 25 and ten million when not said; each time is the middle of so many runs of the whole
# process. Needs:
#   sudo apt-get install time
# Run it on a machine with nothing else to do. run.sh has batch beside R and scipy, ../page/halfpage.sh the page's own times.
set -euo pipefail
cd "$(dirname "$0")/../.."
runs=${1:-25} rows=${2:-10000000}
work=$(mktemp -d)
trap 'chmod -R u+w "$work"; rm -rf "$work"' EXIT
megabytes() { awk -v n="$(stat -c %s "$1")" 'BEGIN { printf "%.2f MB", n / 1e6 }'; }

echo "$(nproc) processors, load $(cut -d' ' -f1 /proc/loadavg), $(go version | cut -d' ' -f3), middle of $runs runs"
go build -o "$work/halfcup" ./cmd/halfcup

# middle TITLE COMMAND... prints the middle of the times on the clock and of processors, and the most memory.
middle() {
    local title=$1 i
    shift
    : >"$work/times"
    for ((i = 0; i < runs; i++)); do
        /usr/bin/time -a -o "$work/times" -f "%e %U %S %M" "$@" >/dev/null 2>&1 || { echo "$title: failed"; return 1; }
    done
    for column in 1 2 4; do
        awk -v c=$column '{ print c == 2 ? $2 + $3 : $c }' "$work/times" | sort -n | sed -n "$(((runs + 1) / 2))p"
    done | paste -sd' ' | awk -v t="$title" '{ printf "%-34s %s s on the clock, %s s of processors, %.0f MB\n", t, $1, $2, $3 / 1000 }'
}

cd "$work"
demo=$OLDPWD/testdata/demo/mill.csv
middle "estimate roll:7/300 board:36/3d" ./halfcup estimate roll:7/300 board:36/3d --today 2026-06-20
middle "choose roll:7/300" ./halfcup choose roll:7/300 --today 2026-06-20
middle "the demo yard" ./halfcup yard --log "$demo" --today 2026-07-05
# Sixty colonies in six yards: ten of the demo yard each, without the pairs, whose labels are of one yard.
awk -F, 'NR == 1 { print; next }
    { rows[++n] = $0; if (!($3 in place)) place[$3] = ++names; at[n] = place[$3]; pair[n] = $4 == "count" && $13 != "" }
    END { for (y = 1; y <= 6; y++) for (i = 1; i <= n; i++) if (at[i] <= 10 && !pair[i]) { r = rows[i]; sub(/,mill,/, ",yard" y ",", r); print r } }' "$demo" >sixty.csv
middle "review of 60 colonies" ./halfcup review --log sixty.csv --today 2026-12-31
middle "a plan of one step" ./halfcup plan --treat 12-15:oxalic-trickle --today 2026-06-20

# The rows behind a quote that is not closed, as many as there are, and the memory that takes.
{
    echo "date,method,mites,bees,note"
    echo '2026-06-20,wash,3,300,"a quote that nobody closed'
    yes 2026-06-20,wash,3,300,fine | head -n "$rows" || true # yes is told to stop
} >quote.csv
/usr/bin/time -q -o times -f "%e s on the clock, %M KB" ./halfcup batch quote.csv out.csv --no-call >/dev/null 2>&1 || true # it ends in exit 3
echo "$rows rows behind a stray quote: $(($(wc -l <out.csv) - 1)) written, $(cat times)"
rm quote.csv out.csv
cd "$OLDPWD"

CGO_ENABLED=0 go build -trimpath -ldflags='-s -w' -o "$work/stripped" ./cmd/halfcup
echo "the stripped program: $(megabytes "$work/stripped")"
go run ./cmd/halfpage --out "$work/halfcup.html" | sed 's/^/the page: /'
echo "the page: $(megabytes "$work/halfcup.html")"

# A newcomer's first run: nothing fetched, nothing compiled.
/usr/bin/time -o "$work/times" -f "%e s on the clock, %U s of processors" env GOCACHE="$work/cache" GOMODCACHE="$work/modules" go run ./cmd/halfcup estimate roll:7/300 >/dev/null 2>&1
echo "the first run with empty caches: $(cat "$work/times")"
