"""Do R and Python agree on the interval limits? Prints the greatest difference per kind; fails above 1e-12 relative.

The two are independent (R's qgamma and qbeta against scipy's, two root finders), so agreement is evidence that both
are right to well below the 1e-9 that the Go tests ask for.
"""
import csv
import sys


def rows(path):
    with open(path) as f:
        return list(csv.DictReader(line for line in f if not line.startswith("#")))


worst = {}
r, py = rows("intervals-r.csv"), rows("intervals-py.csv")
assert len(r) == len(py)
for a, b in zip(r, py):
    assert all(a[k] == b[k] for k in ("kind", "mites", "bees", "level")), (a, b)
    for end in ("low", "high"):
        x, y = float(a[end]), float(b[end])
        assert (x == 0) == (y == 0) and (x == 1) == (y == 1) or abs(x - y) < 1e-15, (a, b)
        worst[a["kind"]] = max(worst.get(a["kind"], 0.0), abs(x - y) / max(abs(y), 1e-300))
for kind, d in worst.items():
    print(f"{kind:16} {d:.0e}")
sys.exit(max(worst.values()) > 1e-12)
