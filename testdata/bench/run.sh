#!/usr/bin/env bash
# halfcup beside its peers on the same rows: run.sh [ROWS], a million when not said. Needs R, and Python with scipy:
#   sudo apt-get install r-base-core python3-scipy time
# Prints the seconds on the clock, the seconds of processors, and the most memory. Run it on a machine with nothing else to do.
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
rows=${1:-1000000}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$here/../.."
go build -o "$work/halfcup" ./cmd/halfcup
/usr/bin/python3 "$here/rows.py" "$rows" >"$work/rows.csv"
/usr/bin/python3 "$here/rows.py" $((rows / 10)) different >"$work/different.csv"
/usr/bin/python3 "$here/rows.py" $((rows / 25)) dated >"$work/dated.csv"
echo "$rows rows, $(sort -u "$work/rows.csv" | wc -l) of them different; $(nproc) processors; load $(cut -d' ' -f1 /proc/loadavg)"

measure() {
    local title=$1
    shift
    /usr/bin/time -f "%e s on the clock, %U s of processors, %M KB" -o "$work/time" "$@" >/dev/null
    printf '%-46s %s\n' "$title" "$(cat "$work/time")"
}
cd "$work"
measure "halfcup: interval and density"                ./halfcup batch rows.csv out.csv --no-call --date 2026-06-20
measure "halfcup: interval, density and call"          ./halfcup batch rows.csv call.csv --date 2026-06-20
measure "halfcup: $((rows / 10)) different rows"       ./halfcup batch different.csv different-out.csv --no-call --date 2026-06-20
measure "halfcup: $((rows / 25)) dated rows with the call"  ./halfcup batch dated.csv dated-out.csv
measure "R qgamma: interval alone"                     Rscript "$here/interval.R" rows.csv r.csv
measure "scipy: interval alone"                        /usr/bin/python3 "$here/interval.py" rows.csv py.csv
echo "scipy quadrature of the density: $(/usr/bin/python3 "$here/density.py" out.csv 200)"
/usr/bin/python3 - <<'END'
import csv
worst = 0.0
with open("out.csv") as a, open("r.csv") as b:
    for x, y in zip(csv.DictReader(a), csv.DictReader(b)):
        for p, q in (("interval_low", "low"), ("interval_high", "high")):
            v, w = float(x[p]), float(y[q])
            worst = max(worst, abs(v - w) / max(w, 1e-300) if w else abs(v))
print(f"greatest difference of the intervals from R's: {worst:.1e}")
END
