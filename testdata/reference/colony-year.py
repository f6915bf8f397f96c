"""Mites through a colony's year, for the tests of package decide.

A second hand at the model, written without a look at the first: it reads the
rows of decide/year.csv and the figures of decide/rates.csv and writes
colony-year.csv. Standard library only.

    python3 colony-year.py
"""
import csv
import math
import os

HERE = os.path.dirname(os.path.abspath(__file__))
MONTHS = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334]
RATES = {r["name"]: float(r["value"]) for r in csv.DictReader(open(os.path.join(HERE, "../../decide/rates.csv")))}
ROWS = list(csv.DictReader(open(os.path.join(HERE, "../../decide/year.csv"))))
LEAST, MOST = 150, 2.7
WARM_UP = 60


def doy(date):
    return MONTHS[int(date[:2]) - 1] + int(date[3:]) - 1


def line(points, at):
    """Between the points around the year."""
    points = sorted(points)
    before = [p for p in points if p[0] <= at] or [(points[-1][0] - 365, points[-1][1])]
    after = [p for p in points if p[0] > at] or [(points[0][0] + 365, points[0][1])]
    (a, va), (b, vb) = before[-1], after[0]
    return va + (vb - va) * (at - a) / (b - a)


def table(which, column, of=float):
    return [(doy(r["date"]), of(r[column])) for r in ROWS if r["set"] == which]


def run(which, first, days, own=0, gap=None, leave=None, part=None):
    """Mites per bee against the first day, share in cells, bees; by day.

    gap: days after first without eggs, from to; leave: day on which a share of
    the bees leaves; part: day on which the colony is halved.
    """
    f = doy(first)
    bees = {d: math.exp(line(table(which, "adult_bees", lambda s: math.log(float(s))), d)) for d in range(365)}
    cells = {d: line(table(which, "worker_cells"), d) for d in range(365)}
    drones = {d: line(table(which, "drone_cells"), d) for d in range(365)}
    scale = own / bees[f] if own else 1.0

    def brood(of_ordinary):
        return of_ordinary if of_ordinary >= 1 else of_ordinary ** RATES["small_brood_power"]

    def eggs_laid(day, share):
        lay = 1.0
        if gap and gap[0] <= day:
            lay = max(0.0, min(1.0, (day - gap[1] + 1) / 14))  # in full two weeks after her first eggs
        return lay * brood(scale * share) / brood(scale)

    laid = {d: 1.0 for d in range(-WARM_UP - 40, -WARM_UP)}
    share, on_bees, worker, drone = 1.0, None, None, None
    out = []
    for day in range(-WARM_UP, days + 1):
        d = (f + day) % 365
        mine = scale * bees[d]
        if leave == day:
            share *= 1 - RATES["swarm_share"]
            on_bees *= 1 - RATES["swarm_share"]
        if part == day:
            share, on_bees = share / 2, on_bees / 2
            worker, drone = [m / 2 for m in worker], [m / 2 for m in drone]
            laid = {k: v / 2 for k, v in laid.items()}
        laid[day] = eggs_laid(day, share)
        big = brood(scale)
        k = min(big * cells[d] * laid[day - 9], MOST * share * mine)
        kd = big * drones[d] * laid[day - 10]
        grams = RATES["grams_per_bee"] * share * mine
        into_worker = RATES["invasion_worker"] * k / 12 / grams
        into_drone = RATES["invasion_drone"] * kd / 14 / grams
        dies = RATES["mortality"]
        if k + kd < LEAST:
            into_worker = into_drone = 0.0
            dies = RATES["mortality_broodless"]
        rate = into_worker + into_drone
        enter = 1 - math.exp(-rate)
        to_drones = into_drone / rate if rate else 0.0

        def step(on_bees, worker, drone):
            entering = on_bees * enter
            born = RATES["survival"] * ((1 + RATES["worker_daughters"]) * worker[-1] + (1 + RATES["drone_daughters"]) * drone[-1])
            return (on_bees - entering) * (1 - dies) + born, [entering * (1 - to_drones)] + worker[:-1], [entering * to_drones] + drone[:-1]

        if on_bees is None:  # the stable state of this day's brood, by letting it run
            on_bees, worker, drone = 1.0, [0.0] * 12, [0.0] * 14
            for _ in range(4000):
                on_bees, worker, drone = step(on_bees, worker, drone)
                by = 1 / on_bees
                on_bees, worker, drone = 1.0, [m * by for m in worker], [m * by for m in drone]
        if day >= 0:
            inside = sum(worker) + sum(drone)
            out.append((on_bees / (share * mine), inside / (inside + on_bees), share * mine))
        on_bees, worker, drone = step(on_bees, worker, drone)
        share += min(big * cells[d] / 12 / mine, 1) * (laid[day - 21] - share)
    return [(t / out[0][0], s, b) for t, s, b in out]


CASES = [  # case, set, first day, own bees, gap, leave, part
    ("temperate", "temperate", "03-01", 0, None, None, None),
    ("cold", "cold", "05-01", 0, None, None, None),
    ("warm", "warm", "01-01", 0, None, None, None),
    ("small", "temperate", "06-01", 8000, None, None, None),
    ("strong", "temperate", "06-01", 40000, None, None, None),
    ("caged", "temperate", "06-01", 0, (5, 30), None, None),
    ("swarmed", "temperate", "05-20", 0, (10, 31), 10, None),
    ("halved", "temperate", "06-01", 0, None, None, 10),
]

if __name__ == "__main__":
    with open(os.path.join(HERE, "colony-year.csv"), "w", newline="") as f:
        w = csv.writer(f, lineterminator="\n")
        f.write("# written by colony-year.py\n")
        w.writerow(["case", "set", "first", "own_bees", "day", "mites_per_bee", "in_cells", "bees"])
        for case, which, first, own, gap, leave, part in CASES:
            days = run(which, first, 360, own, gap, leave, part)
            for day in range(0, 361, 12):
                w.writerow([case, which, first, own, day] + ["%.10g" % v for v in days[day]])
