"""A yard as one population with priors, by explicit sums. Writes yards-bayes.csv and yards-bayes-colonies.csv.

The same yards and visits of the open washes as yards.R, but the Bayesian model: ln theta_i ~ Normal(mu, sigma^2) between
colonies, mu ~ Normal(ln 0.01, 1.05), ln sigma ~ Normal(ln 0.65, 0.4) (priors: judgement), mites negative binomial with
mean bees*theta and size 1/0.25^2 (frame-to-frame CV 0.25, one frame a wash: judgement; the data do not say). So it differs
from lme4 in yards.csv by the priors and by the frame blur, and by integrating over mu and sigma instead of fixing them.

mu on 201 points (prior mean +- 5 prior SD), ln sigma on 141 points (+- 5 prior SD), x = ln theta on a grid of 0.02 over
ln 0.01 +- 12: trapezoid sums of smooth functions; points and chances from a cubic spline's running integral. the header says
how far the answers move when every grid is made twice as fine (yard B, before); the script stops above 1e-6 relative.
"""
import csv
import sys

import numpy as np
import scipy
from scipy import interpolate, optimize, special

MU, MU_SD, SIGMA, SIGMA_SD, FRAME_CV = np.log(0.01), 1.05, 0.65, 0.4, 0.25


def points_and_over(at, dens, ps=(0.5, 0.025, 0.975), level=None):
    run = interpolate.CubicSpline(at, dens).antiderivative()
    total = run(at[-1])
    q = [optimize.brentq(lambda v: run(v) / total - p, at[0], at[-1], xtol=1e-13) for p in ps]
    return q if level is None else [*np.exp(q), 1 - run(np.log(level)) / total]


class Yard:
    def __init__(self, fine=1):
        self.mu = MU + MU_SD * np.linspace(-5, 5, 200 * fine + 1)
        self.ln_sigma = np.log(SIGMA) + SIGMA_SD * np.linspace(-5, 5, 140 * fine + 1)
        step = 0.02 / fine
        self.x = MU + np.arange(-12, 12 + step / 2, step)
        m, s = (a.ravel() for a in np.meshgrid(self.mu, self.ln_sigma, indexing="ij"))
        self.prior = -0.5 * ((m - MU) / MU_SD) ** 2 - 0.5 * ((s - np.log(SIGMA)) / SIGMA_SD) ** 2
        self.kernel = np.exp(-0.5 * ((self.x[:, None] - m) / np.exp(s)) ** 2 - s) * (step / np.sqrt(2 * np.pi))

    def fit(self, y, n):
        """limits of mu and sigma, of a colony not counted, and of each counted one (median, low, high, chance over 0.02)"""
        size = 1 / FRAME_CV**2
        v = np.log(n)[:, None] + self.x - np.log(size)
        like = y[:, None] * (v - np.log1p(np.exp(v))) - size * np.log1p(np.exp(v))
        like = np.exp(like - like.max(axis=1, keepdims=True))
        marginal = np.maximum(like @ self.kernel, 1e-300)  # so small only where the posterior is nil
        log_post = self.prior + np.log(marginal).sum(axis=0)
        post = np.exp(log_post - log_post.max())
        post /= post.sum()
        grid = post.reshape(len(self.mu), len(self.ln_sigma))
        counted = like * ((post / marginal) @ self.kernel.T)
        return (points_and_over(self.mu, grid.sum(axis=1)), np.exp(points_and_over(self.ln_sigma, grid.sum(axis=0))),
                points_and_over(self.x, self.kernel @ post, level=0.02),
                np.array([points_and_over(self.x, d, level=0.02) for d in counted]))


def counts(rows):
    return (np.array([float(w[k]) for w in rows]) for k in ("mites", "bees"))


def check(model, rows):
    rough, dense = model.fit(*counts(rows)), Yard(fine=2).fit(*counts(rows))
    worst = max(np.max(np.abs(np.asarray(a) / np.asarray(b) - 1)) for a, b in zip(rough, dense))
    if worst > 1e-6:
        sys.exit(f"not converged: {worst:.1e}")
    return worst


def main():
    with open("../open/washes-2022.csv") as f:
        washes = list(csv.DictReader(f))
    model = Yard()
    worst = check(model, [w for w in washes if w["yard"] == "B" and w["visit"] == "before"])
    head = (f"# scipy {scipy.__version__}, numpy {np.__version__}. Remake: python3 yards_bayes.py\n"
            "# yard as one log-normal population with priors and frame blur: model and grids in yards_bayes.py; theta is mites per bee;"
            f" grids twice as fine move nothing by more than {worst:.0e} relative\n")
    with open("yards-bayes.csv", "w") as yards, open("yards-bayes-colonies.csv", "w") as colonies:
        yards.write(head + "yard,visit,colonies,mu,mu_low,mu_high,sigma,sigma_low,sigma_high,"
                    "new_median,new_low,new_high,new_over_2,share_over_2\n")
        colonies.write(head + "yard,visit,colony,mites,bees,median,low,high,over_2\n")
        for visit in ("before", "ten-weeks", "harvest"):
            for yard in "ABCD":
                rows = [w for w in washes if w["yard"] == yard and w["visit"] == visit]
                m, s, new, each = model.fit(*counts(rows))
                print(yard, visit, len(rows), *(f"{v:.10g}" for v in (*m, *s, *new, each[:, 3].mean())), sep=",", file=yards)
                for w, d in zip(rows, each):
                    print(yard, visit, w["colony"], w["mites"], w["bees"], *(f"{v:.10g}" for v in d), sep=",", file=colonies)


if __name__ == "__main__":
    main()
