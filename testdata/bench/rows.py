#!/usr/bin/env python3
"""Field-like counts, as many rows as asked for: rows.py N [different] > FILE

Wash and roll, 220 to 400 bees, 0 to 60 mites, repeats as they come: colonies are log-normal about 1.5 per hundred, bees
normal about 300. With "different" no two rows are alike: the bees of each are given with a fraction of their own.
Invented, and the same in every run.
"""
import sys
import numpy as np

n = int(sys.argv[1])
rng = np.random.default_rng(20260620)
bees = np.clip(np.rint(rng.normal(300, 30, n)), 220, 400).astype(int)
roll = rng.random(n) < 0.5
level = 0.015 * np.exp(0.9 * rng.standard_normal(n)) * np.where(roll, rng.beta(9, 2, n), 1) * rng.gamma(16, 1 / 16, n)
mites = np.minimum(rng.poisson(level * bees), 60)
out = sys.stdout
out.write("method,mites,bees\n")
if len(sys.argv) > 2:
    for i in range(n):
        out.write(f"{'roll' if roll[i] else 'wash'},{mites[i]},{bees[i]}.{i:07d}\n")
else:
    out.writelines(f"{'roll' if r else 'wash'},{m},{b}\n" for r, m, b in zip(roll, mites, bees))
