#!/usr/bin/env python3
"""Field-like counts: rows.py N [different|dated] > FILE

Wash and roll, 220 to 400 bees, 0 to 60 mites, repeats as they come: colonies are log-normal about 1.5 per hundred, bees
normal about 300. With "different" no two rows are alike: every combination of method, mites, bees from 200 to 1199 and
frames from 1 to 5, in a random order. With "dated" next to no two are alike: boards and carbon dioxide too, each on one
of the 183 days from April to September. Invented, and the same in every run.
"""
import sys
import numpy as np

n = int(sys.argv[1])
rng = np.random.default_rng(20260620)
out = sys.stdout
if sys.argv[2:] == ["dated"]:
    day0 = np.datetime64("2026-04-01")
    out.write("date,method,mites,bees,frames\n")
    for _ in range(n):
        day = day0 + int(rng.integers(183))
        method = ["wash", "wash", "roll", "roll", "co2", "board"][rng.integers(6)]
        if method == "board":
            out.write(f"{day},board,{rng.integers(80)},{[1, 2, 3, 4, 7][rng.integers(5)]}d,\n")
        else:
            out.write(f"{day},{method},{min(60, int(np.exp(rng.normal(1.2, 1.1))))},{rng.integers(200, 400)},{['', 1, 2, 3][rng.integers(4)]}\n")
    sys.exit()
if len(sys.argv) > 2:
    out.write("method,mites,bees,frames\n")
    for i in rng.permutation(2 * 61 * 1000 * 5)[:n]:
        i, roll = divmod(int(i), 2)
        i, mites = divmod(i, 61)
        frames, bees = divmod(i, 1000)
        out.write(f"{'roll' if roll else 'wash'},{mites},{bees + 200},{frames + 1}\n")
    sys.exit()
bees = np.clip(np.rint(rng.normal(300, 30, n)), 220, 400).astype(int)
roll = rng.random(n) < 0.5
level = 0.015 * np.exp(0.9 * rng.standard_normal(n)) * np.where(roll, rng.beta(9, 2, n), 1) * rng.gamma(16, 1 / 16, n)
mites = np.minimum(rng.poisson(level * bees), 60)
out.write("method,mites,bees\n")
out.writelines(f"{'roll' if r else 'wash'},{m},{b}\n" for r, m, b in zip(roll, mites, bees))
