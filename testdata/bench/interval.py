#!/usr/bin/env python3
"""Exact Poisson limits of every row, as scipy does it: vectorised chi-squared quantiles. interval.py IN OUT"""
import csv
import sys
import numpy as np
from scipy.stats import gamma

with open(sys.argv[1], newline="") as f:
    rows = list(csv.DictReader(f))
mites = np.array([int(r["mites"]) for r in rows])
bees = np.array([int(r["bees"]) for r in rows])
low = np.where(mites == 0, 0, gamma.ppf(0.025, np.maximum(mites, 1))) / bees * 100
high = gamma.ppf(0.975, mites + 1) / bees * 100
with open(sys.argv[2], "w", newline="") as f:
    w = csv.writer(f)
    w.writerow([*rows[0], "low", "high"])
    w.writerows([*r.values(), a, b] for r, a, b in zip(rows, low, high))
