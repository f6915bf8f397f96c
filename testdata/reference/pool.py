"""A yard pooled on the scale of normal scores, by nested sums. Writes pool.csv and pool-colonies.csv.

Beforehand ln theta of a colony follows a mixture of normal laws (one part, or two for a colony that was treated); F is its
distribution function and z = Phi^-1(F(theta)). In a yard z ~ Normal(mu, 1-r), mu ~ Normal(0, r), and logit r is normal with
the given median and SD (SD 0: r is known). Mites of a wash are negative binomial with mean bees*theta and size 1/0.25^2
(frame-to-frame CV 0.25), those of a roll the same with bees*rho*theta: the rolls of a yard share one rho, one of the five
quantiles of Beta(9, 2) at 0.1, 0.3, 0.5, 0.7 and 0.9, each with the chance 1/5. Figures are judgement, and chosen so that
colonies disagree.

Nothing is clever here: logit r on 121 points (+- 6 SD), for each r mu on 301 points (+- 7 SD of its prior), z of every colony
on points 1/40 apart from -9 to 9, laid so that the line falls on one; sums with the end weights of Gregory's rule from the
line up; points from a cubic spline's running integral. The mean of two colonies is a sum over both levels, by thousandths of
its logarithm. Three yards are done again with every grid twice as fine; the script stops if a level moves by more than 1e-5
of itself or a chance by more than 1e-5. It takes about two minutes.
"""
import sys

import numpy as np
import scipy
from scipy import interpolate, optimize, special, stats

SIZE = 1 / 0.25**2
RECOVERY = stats.beta(9, 2).ppf([0.1, 0.3, 0.5, 0.7, 0.9])
LINE = 0.02

# of each yard: median of r, SD of its log odds, and the colonies: parts of the law before (weight, median per hundred,
# log-SD), how it was counted, mites, bees.
AUTUMN, TREATED, SUMMER = [(1, 2.3, 1.2)], [(0.7, 0.25, 0.9), (0.3, 1.9, 1.2)], [(1, 0.9, 1.1)]
YARDS = {
    "one": (0.6, 0.8, [(TREATED, "wash", 7, 300)]),
    "two": (0.6, 0.8, [(AUTUMN, "wash", 20, 300), ([(1, 0.3, 0.7)], "wash", 1, 300)]),
    "three": (0.6, 0.8, [(AUTUMN, "none", 0, 0), (TREATED, "wash", 12, 300), (SUMMER, "wash", 2, 100)]),
    "three-alike": (0.9, 0, [(AUTUMN, "none", 0, 0), (TREATED, "wash", 12, 300), (SUMMER, "wash", 2, 100)]),
    "three-far": (0.6, 0.8, [(AUTUMN, "wash", 0, 3000), (SUMMER, "wash", 300, 300), (TREATED, "none", 0, 0)]),
    "fourteen": (0.6, 0.8, [(AUTUMN if i % 3 else TREATED, "none" if i % 5 == 4 else "wash", m, 100 if i % 4 == 1 else 300)
                            for i, m in enumerate([0, 3, 11, 9, 0, 1, 24, 2, 7, 0, 6, 15, 40, 5])]),
    "roll-one": (0.6, 0.8, [(AUTUMN, "roll", 5, 300)]),
    "roll-two": (0.6, 0.8, [(AUTUMN, "roll", 5, 300), (TREATED, "roll", 9, 300)]),
    "roll-three": (0.6, 0.8, [(AUTUMN, "roll", 4, 300), (AUTUMN, "wash", 22, 300), (SUMMER, "roll", 6, 300)]),
    "roll-fourteen": (0.6, 0.8, [(SUMMER if i % 4 else TREATED, ["roll", "roll", "wash", "roll", "none", "roll", "roll"][i % 7], m, 300)
                                 for i, m in enumerate([2, 5, 16, 3, 0, 8, 4, 6, 1, 19, 7, 0, 3, 5])]),
}


class Colony:
    """The law before, the points of z and what the count says on them, a column for each value of the recovery."""

    def __init__(self, parts, how, mites, bees, fine):
        self.parts = [(w, np.log(m / 100), s) for w, m, s in parts]
        step = 1 / 40 / fine
        at = self.score(np.log(LINE))
        self.z = at + step * np.arange(np.ceil((-9 - at) / step), np.floor((9 - at) / step) + 1)
        self.above = np.where(self.z > at - step / 2, step, 0.0)
        first = int(np.argmax(self.above > 0))
        self.above[first:first + 3] *= [3 / 8, 7 / 6, 23 / 24]
        self.step = step
        self.x = np.array([self.level(z) for z in self.z])
        self.shared = how == "roll"
        self.counted = how != "none"
        rho = RECOVERY if self.shared else np.ones(len(RECOVERY))
        if self.counted:
            self.record = np.stack([stats.nbinom.pmf(mites, SIZE, SIZE / (SIZE + bees * r * np.exp(self.x))) for r in rho], axis=1)
        else:
            self.record = np.ones((len(self.z), len(RECOVERY)))

    def tail(self, x, upper):
        side = -1 if upper else 1
        return sum(w * special.ndtr(side * (x - m) / s) for w, m, s in self.parts)

    def score(self, x):
        low = self.tail(x, False)
        return special.ndtri(low) if low < 0.5 else -special.ndtri(self.tail(x, True))

    def level(self, z):
        if len(self.parts) == 1:
            return self.parts[0][1] + z * self.parts[0][2]
        return optimize.brentq(lambda x: self.score(x) - z, -40, 30, xtol=1e-13)

    def read(self, dens):
        run = interpolate.CubicSpline(self.z, dens).antiderivative()
        low, high = run(self.z[0]), run(self.z[-1])
        points = [np.exp(self.level(optimize.brentq(lambda v: (run(v) - low) / (high - low) - p, self.z[0], self.z[-1], xtol=1e-13)))
                  for p in (0.5, 0.025, 0.975)]
        return [*points, (dens * self.above).sum() / (dens.sum() * self.step)]


def fit(share, sd, colonies, fine=1):
    colonies = [Colony(*c, fine) for c in colonies]
    values = len(RECOVERY) if any(c.shared for c in colonies) else 1
    middle = np.log(share / (1 - share))
    rs = special.expit(middle + sd * np.linspace(-6, 6, 120 * fine + 1)) if sd else np.array([share])
    weight_r = stats.norm.pdf(np.linspace(-6, 6, 120 * fine + 1)) if sd else np.ones(1)
    points = np.linspace(-7, 7, 300 * fine + 1)

    def kernel(c, r):  # density of z at (mu, z)
        s = np.sqrt(1 - r)
        return np.exp(-0.5 * ((c.z[None, :] - np.sqrt(r) * points[:, None]) / s) ** 2) / (s * np.sqrt(2 * np.pi))

    # log chances of the records: r, mu, value of the recovery, colony; and those of being over the line as well
    chance = np.zeros((len(rs), len(points), values, len(colonies)))
    over = np.zeros_like(chance)
    for j, r in enumerate(rs):
        for i, c in enumerate(colonies):
            k = kernel(c, r)
            chance[j, :, :, i] = k @ c.record[:, :values] * c.step
            over[j, :, :, i] = k @ (c.record[:, :values] * c.above[:, None])
    # a colony nobody counted tells nothing; the sum above has that right but for the ends at +- 9
    for i, c in enumerate(colonies):
        if not c.counted:
            chance[..., i] = 1
    logs = np.log(np.maximum(chance, 1e-300))
    prior = np.log(weight_r)[:, None, None] + stats.norm.logpdf(points)[None, :, None]
    total = prior + logs.sum(axis=3)
    post = np.exp(total - total.max())
    post /= post.sum()

    # the law of the number over
    law = np.zeros(len(colonies) + 1)
    p = np.clip(over / np.maximum(chance, 1e-300), 0, 1)
    number = [post] + [np.zeros_like(post)] * len(colonies)
    for i in range(len(colonies)):
        number = [number[k] * (1 - p[..., i]) + (number[k - 1] * p[..., i] if k else 0) for k in range(len(number))]
    law = np.array([n.sum() for n in number])

    rows, densities = [], []
    for i, c in enumerate(colonies):
        own = total - logs[..., i]
        own = np.exp(own - own.max())
        dens, others = np.zeros(len(c.z)), np.zeros(len(c.z))
        for j, r in enumerate(rs):
            k = kernel(c, r)
            others += own[j].sum(axis=1) @ k
            dens += ((own[j].T @ k) * c.record[:, :values].T).sum(axis=0)
        rows.append(c.read(dens) + c.read(others))
    summary = {"standing": standing_of(rs, points, post.sum(axis=2)), "share_is": share_of(rs, post.sum(axis=(1, 2))),
               "recovery": post.sum(axis=(0, 1)) if values > 1 else [], "over": law,
               "mean": mean_of_two(rs, colonies, kernel, total, values, logs) if len(colonies) == 2 else []}
    return summary, np.array(rows)


def standing_of(rs, points, post):
    """median, 2.5 % and 97.5 % point of mu"""
    runs = [interpolate.CubicSpline(np.sqrt(r) * points, p / np.sqrt(r)).antiderivative() for r, p in zip(rs, post)]

    def below(mu):
        return sum(run(np.clip(mu, run.x[0], run.x[-1])) for run in runs)

    return [optimize.brentq(lambda v: below(v) / below(9) - p, -9, 9, xtol=1e-12) for p in (0.5, 0.025, 0.975)]


def share_of(rs, post):
    """median, 2.5 % and 97.5 % point of r"""
    if len(rs) == 1:
        return [rs[0]] * 3
    run = interpolate.CubicSpline(special.logit(rs), post).antiderivative()
    return [special.expit(optimize.brentq(lambda v: run(v) / run(run.x[-1]) - p, run.x[0], run.x[-1], xtol=1e-12)) for p in (0.5, 0.025, 0.975)]


def mean_of_two(rs, colonies, kernel, total, values, logs):
    """2.5 %, 50 % and 97.5 % point of the mean of two colonies, in mites per bee"""
    a, b = colonies
    joint = np.zeros((len(a.z), len(b.z)))
    top = (total - logs.sum(axis=3)).max()
    for j, r in enumerate(rs):
        ka, kb = kernel(a, r), kernel(b, r)
        for s in range(values):
            w = np.exp(total[j, :, s] - logs[j, :, s, :].sum(axis=1) - top)
            joint += (ka * a.record[:, s]).T @ (w[:, None] * kb * b.record[:, s])
    mean = (np.exp(a.x)[:, None] + np.exp(b.x)[None, :]) / 2
    hist, edges = np.histogram(np.log(mean).ravel(), bins=np.arange(-16, 5, 0.001), weights=joint.ravel())
    run = np.cumsum(hist) / hist.sum()
    return [np.exp(np.interp(p, run, edges[1:])) for p in (0.025, 0.5, 0.975)]


def worst_move(name):
    (a, rough), (b, dense) = fit(*YARDS[name]), fit(*YARDS[name], fine=2)
    moves = [np.abs(rough[:, [0, 1, 2, 4, 5, 6]] / dense[:, [0, 1, 2, 4, 5, 6]] - 1).max(),
             np.abs(rough[:, [3, 7]] - dense[:, [3, 7]]).max(), np.abs(a["over"] - b["over"]).max()]
    return max(moves)


def main():
    worst = max(worst_move(name) for name in ("two", "three-far", "roll-three"))
    if worst > 1e-5:
        sys.exit(f"not converged: {worst:.1e}")
    head = (f"# scipy {scipy.__version__}, numpy {np.__version__}. Remake: python3 pool.py\n"
            "# yards pooled on the scale of normal scores: model, yards and grids in pool.py; theta is mites per bee;"
            f" grids twice as fine move nothing by more than {worst:.0e}\n")
    text = lambda values: " ".join(f"{v:.10g}" for v in values)
    with open("pool.csv", "w") as yards, open("pool-colonies.csv", "w") as out:
        yards.write(head + "yard,share,share_logit_sd,standing,share_is,recovery,over,mean\n")
        out.write(head + "yard,colony,before,how,mites,bees,median,low,high,over_2,others_median,others_low,others_high,others_over_2\n")
        for name, (share, sd, colonies) in YARDS.items():
            s, rows = fit(share, sd, colonies)
            print(name, share, sd, text(s["standing"]), text(s["share_is"]), text(s["recovery"]), text(s["over"]), text(s["mean"]), sep=",", file=yards)
            for i, ((parts, how, mites, bees), row) in enumerate(zip(colonies, rows)):
                before = " ".join(f"{w}:{m}:{sd}" for w, m, sd in parts)
                print(name, i + 1, before, how, mites, bees, *(f"{v:.10g}" for v in row), sep=",", file=out)


if __name__ == "__main__":
    main()
