"""Exact and score limits for a bare count, in Python. Writes intervals-py.csv.

The same cases as intervals.R (sources there). clopper-pearson, wilson, jeffreys: statsmodels proportion_confint, with
the ends set to exactly 0 at no mites and 1 at mites = bees (Brown, Cai & DasGupta 2001). garwood: scipy chi-squared
quantiles, upper tail by isf. mid-p has no ready-made function: solved here by root finding (brentq on the logit axis).
"""
import numpy as np
import scipy
import statsmodels
from scipy import optimize, special, stats
from statsmodels.stats.proportion import proportion_confint

LEVELS = [0.5, 0.8, 0.9, 0.95, 0.99, 0.999, 0.9999]
SIZES = [1, 2, 3, 10, 50, 100, 210, 300, 1000, 5000]


def counts(n, over):
    y = [0, 1, 2, 3, 6, 9, 15, 30, n // 10, n // 2, n - 2, n - 1, n]
    y = [v for v in y if 0 <= v <= n]
    if over:
        y += [n + 1, 2 * n] + ([20 * n] if n <= 300 else [])
    return sorted(set(y))


def garwood(y, n, level):
    a = (1 - level) / 2
    low = stats.chi2.ppf(a, 2 * y) / 2 / n if y else 0.0
    return low, stats.chi2.isf(a, 2 * y + 2) / 2 / n


def statsmodels_kind(method):
    def limits(y, n, level):
        low, high = proportion_confint(y, n, 1 - level, method=method)
        return (0.0 if y == 0 else low), (1.0 if y == n else high)
    return limits


def midp(y, n, level):
    a = (1 - level) / 2
    outer = proportion_confint(y, n, 1 - level, method="beta")

    def solve(tail, p0, p1):
        def f(x):
            p = special.expit(x)
            return np.log(tail(p) + stats.binom.pmf(y, n, p) / 2) - np.log(a)
        x0, x1 = (special.logit(min(max(p, 1e-300), 1 - 1e-16)) for p in (p0, p1))
        return special.expit(optimize.brentq(f, x0 - 1e-6, x1 + 1e-6, xtol=1e-15, rtol=4 * np.finfo(float).eps, maxiter=1000))

    mid = min(max(y / n, 1e-9), 1 - 1e-9)
    low = 0.0 if y == 0 else solve(lambda p: stats.binom.sf(y, n, p), outer[0], mid)
    high = 1.0 if y == n else solve(lambda p: stats.binom.cdf(y - 1, n, p), mid, outer[1])
    return low, high


KINDS = {
    "garwood": garwood,
    "clopper-pearson": statsmodels_kind("beta"),
    "wilson": statsmodels_kind("wilson"),
    "jeffreys": statsmodels_kind("jeffreys"),
    "mid-p": midp,
}


def main():
    with open("intervals-py.csv", "w") as out:
        print(f"# scipy {scipy.__version__}, statsmodels {statsmodels.__version__}, numpy {np.__version__}."
              " Remake: python3 intervals.py", file=out)
        print("# limits are mites per bee; clopper-pearson, wilson, jeffreys by proportion_confint (ends set to 0 and 1),"
              " garwood by chi2.ppf and chi2.isf, mid-p by brentq", file=out)
        print("kind,mites,bees,level,low,high", file=out)
        for kind, limits in KINDS.items():
            for n in SIZES:
                for y in counts(n, kind == "garwood"):
                    for level in LEVELS:
                        low, high = limits(y, n, level)
                        print(f"{kind},{y},{n},{level:.17g},{low:.17g},{high:.17g}", file=out)


if __name__ == "__main__":
    main()
