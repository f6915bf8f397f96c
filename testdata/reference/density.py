"""Posterior of an infestation from one bee sample, by explicit quadrature. Writes density.csv.

theta: mites per bee on the scale of a careful wash, ln theta ~ Normal(ln 0.01, 1.3).
mites ~ Poisson(n * rho * g * theta); g ~ Gamma, mean 1, CV 0.25/sqrt(frames), so that given n, rho and theta the count is
negative binomial with mean n*rho*theta and size frames/0.25^2. rho = 1 for wash, Beta(9, 2) for roll. n is the stated
number when counted; when scooped, log-normal with that mean and CV 0.15 (log-variance ln(1 + 0.15^2)).

Every integral is a plain sum: rho by 80-node Gauss-Jacobi, ln n by 40-node Gauss-Hermite, x = ln theta on a grid of 0.01 over
ln 0.01 +- 11 with a cubic spline for the running integral. Before writing, every eighth case is done again with twice the
nodes and half the step; the script stops if any result moves by more than 1e-8 relative.
"""
import sys

import numpy as np
import scipy
from scipy import interpolate, optimize, special

SAMPLES = [(0, 50), (0, 300), (1, 100), (2, 200), (3, 300), (6, 300), (9, 300), (20, 400), (40, 350), (60, 400), (60, 50)]
PRIOR_LN, PRIOR_SD, FRAME_CV, BEES_CV, ALPHA, BETA = np.log(0.01), 1.3, 0.25, 0.15, 9, 2
HALF_WIDTH, STEP = 11.0, 0.01


def posterior(mites, bees, frames, method, scooped, fine=1):
    """median, 2.5 % and 97.5 % points, mean, chance over 0.02 and over 0.03"""
    size = frames / FRAME_CV**2
    if method == "roll":
        t, w = special.roots_jacobi(80 * fine, BETA - 1, ALPHA - 1)  # weight (1-t)^(BETA-1) (1+t)^(ALPHA-1)
        ln_rho, w_rho = np.log((1 + t) / 2), w / w.sum()
    else:
        ln_rho, w_rho = np.zeros(1), np.ones(1)
    if scooped:
        t, w = special.roots_hermite(40 * fine)
        s = np.sqrt(np.log1p(BEES_CV**2))
        ln_n, w_n = np.log(bees) - s**2 / 2 + np.sqrt(2) * s * t, w / w.sum()
    else:
        ln_n, w_n = np.array([np.log(bees)]), np.ones(1)
    x = PRIOR_LN + np.arange(-HALF_WIDTH, HALF_WIDTH + STEP / fine / 2, STEP / fine)
    shift = (ln_rho[:, None] + ln_n[None, :]).ravel()
    weight = (w_rho[:, None] * w_n[None, :]).ravel()
    like = np.zeros_like(x)
    for d, w in zip(shift, weight):
        v = x + d - np.log(size)  # ln(mean/size)
        like += w * np.exp(mites * (v - np.log1p(np.exp(v))) - size * np.log1p(np.exp(v)))
    dens = like * np.exp(-0.5 * ((x - PRIOR_LN) / PRIOR_SD) ** 2)
    dens /= dens.max()
    run = interpolate.CubicSpline(x, dens).antiderivative()
    total = run(x[-1])

    def point(p):
        return np.exp(optimize.brentq(lambda v: run(v) / total - p, x[0], x[-1], xtol=1e-13))

    mean = interpolate.CubicSpline(x, dens * np.exp(x)).integrate(x[0], x[-1]) / total
    return [point(0.5), point(0.025), point(0.975), mean] + [(total - run(np.log(t))) / total for t in (0.02, 0.03)]


def main():
    cases = [(y, n, f, m, s) for y, n in SAMPLES for f in (1, 2, 3) for m in ("wash", "roll") for s in (False, True)]
    results = [posterior(*c) for c in cases]
    worst = 0.0
    for i in range(3, len(cases), 8):
        again = posterior(*cases[i], fine=2)
        worst = max(worst, max(abs(a - b) / abs(b) for a, b in zip(results[i], again) if b > 1e-9))
    if worst > 1e-8:
        sys.exit(f"not converged: {worst:.1e}")
    with open("density.csv", "w") as out:
        print(f"# scipy {scipy.__version__}, numpy {np.__version__}. Remake: python3 density.py", file=out)
        print("# posterior of theta, mites per bee, after one bee sample: model, defaults and nodes in density.py;"
              f" doubling the nodes moves nothing by more than {worst:.0e} relative", file=out)
        print("mites,bees,frames,method,scooped,median,low,high,mean,over_2,over_3", file=out)
        for (y, n, f, m, s), r in zip(cases, results):
            print(f"{y},{n},{f},{m},{str(s).lower()}," + ",".join(f"{v:.12g}" for v in r), file=out)


if __name__ == "__main__":
    main()
