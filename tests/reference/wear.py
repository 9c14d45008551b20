"""Reference values for the line through tips: SciPy's Theil-Sen and t, NumPy's matrices, statsmodels' MixedLM.

Writes wear.json beside this file; with --check recomputes and exits 1 where the stored file differs.
"""

import json
import math
import pathlib
import sys
import warnings

import numpy as np
from scipy import optimize, stats
from statsmodels.genmod.generalized_estimating_equations import GEE
from statsmodels.regression.mixed_linear_model import MixedLM

warnings.filterwarnings("ignore")
FILE = pathlib.Path(__file__).with_suffix(".json")
LEVEL = 0.95
LIMIT = 65.0


def make_tips(rng, index):
    """1 to 6 tips; every third table rounded to whole points (ties), every fourth of unequal lengths."""
    tips = []
    length = int(rng.integers(8, 31))
    for _ in range(1 + index % 6):
        n = int(rng.integers(6, 31)) if index % 4 == 0 else length
        x = np.arange(1, n + 1)
        y = 90 + 5 * rng.normal() + (-0.9 + 0.1 * rng.normal()) * x + 3 * rng.normal(size=n)
        y = y.round(0 if index % 3 == 0 else 6)
        tips.append([[float(a), float(b)] for a, b in zip(x, y)])
    return tips


def s_of(y):
    """Mann and Kendall's S, and its variance with ties."""
    i, j = np.triu_indices(len(y), 1)
    n, ties = len(y), np.unique(y, return_counts=True)[1]
    spread = n * (n - 1) * (2 * n + 5) - np.sum(ties * (ties - 1) * (2 * ties + 5))
    return np.sign(y[j] - y[i]).sum(), spread / 18


def within(tips, lines):
    """Covariance of the mean line, df and p, neighbours being correlated as an AR(1)."""
    left = [y - a - b * x for (x, y), (a, b) in zip(tips, lines)]
    left = [r - r.mean() for r in left]
    n = sum(len(r) for r in left)
    mean_n = n / len(left)
    raw = sum(r[1:] @ r[:-1] for r in left) / sum(r @ r for r in left)
    rho = float(np.clip((mean_n * raw + 2) / (mean_n - 4), 0, 0.95))
    cov, squares, free, s, spread = np.zeros((2, 2)), 0.0, 0.0, 0.0, 0.0
    for x, y in tips:
        design = np.c_[np.ones_like(x), x]
        corr = rho ** np.abs(np.subtract.outer(x, x))
        project = np.linalg.pinv(design)
        errors = project @ corr @ project.T
        cov += errors
        squares += np.linalg.lstsq(design, y, rcond=None)[1][0]
        free += len(x) - np.trace(design @ project @ corr)
        one_s, one_spread = s_of(y)
        s += one_s
        spread += one_spread * errors[1, 1] / np.linalg.inv(design.T @ design)[1, 1]
    df = max(n * (1 - rho) / (1 + rho) - 2 * len(tips), 1)
    p = 2 * stats.t.sf(max(abs(s) - 1, 0) / math.sqrt(spread), df) if s else 1.0
    return cov * squares / free / len(tips) ** 2, df, float(p), rho


def between(tips, lines):
    taus = np.array([s_of(y)[0] * 2 / len(y) / (len(y) - 1) for _, y in tips])
    s, spread = map(sum, zip(*(s_of(y) for _, y in tips)))
    kendall = 2 * stats.norm.sf((abs(s) - 1) / math.sqrt(spread))
    agree = stats.ttest_1samp(taus, 0).pvalue
    return np.cov(lines.T) / len(tips), len(tips) - 1, float(max(kendall, agree))


def mixed(tips):
    """Slope and standard error by REML with a random level and slope."""
    x = np.concatenate([t[0] for t in tips])
    y = np.concatenate([t[1] for t in tips])
    groups = np.repeat(np.arange(len(tips)), [len(t[0]) for t in tips])
    # About the middle and in tens of starts the two variances are of one size, which the search needs.
    design = np.c_[np.ones_like(x), (x - x.mean()) / 10]
    fit = MixedLM(y, design, groups, exog_re=design).fit(reml=True, method=["powell", "bfgs"])
    found = [float(fit.fe_params[1]) / 10, float(fit.bse_fe[1]) / 10]
    # At the edge of what the variances can be it has no errors.
    edge = np.linalg.eigvalsh(fit.cov_re)[0] < 1e-3 * fit.scale or not fit.converged
    return None if edge or not all(map(math.isfinite, found)) else found


def gee(tips):
    """Slope by GEE with a level of its own a tip, and its bias-reduced error (Mancl and DeRouen 2001)."""
    x = np.concatenate([t[0] - t[0].mean() for t in tips])
    y = np.concatenate([t[1] - t[1].mean() for t in tips])
    groups = np.repeat(np.arange(len(tips)), [len(t[0]) for t in tips])
    fit = GEE(y, x[:, None], groups).fit(cov_type="bias_reduced")
    return [float(fit.params[0]), float(fit.bse[0])]


def ends(mean, cov, df):
    """Where the line could have the limit, by its errors, found by searching."""
    t = stats.t.ppf(0.5 + LEVEL / 2, df)
    gap = lambda x: abs(mean[0] - LIMIT + mean[1] * x) - t * math.sqrt(
        max(cov[0, 0] + 2 * x * cov[0, 1] + x * x * cov[1, 1], 0)
    )
    at = (LIMIT - mean[0]) / mean[1]
    if abs(mean[1]) <= t * math.sqrt(cov[1, 1]):
        return float(at), None
    out = []
    for side in (-1, 1):
        step = 1.0
        while gap(at + side * step) <= 0:
            step *= 2
        out.append(float(optimize.brentq(gap, at, at + side * step, xtol=1e-12, rtol=1e-14)))
    return float(at), out


def table(rng, index):
    data = make_tips(rng, index)
    tips = [tuple(np.array(t).T) for t in data]
    fits = [stats.theilslopes(y, x, method="joint") for x, y in tips]
    lines = np.array([[f.intercept, f.slope] for f in fits])
    mean = lines.mean(axis=0)
    _, _, _, rho = within(tips, lines)
    cov, df, p = between(tips, lines) if len(tips) > 2 else within(tips, lines)[:3]
    half = stats.t.ppf(0.5 + LEVEL / 2, df) * math.sqrt(cov[1, 1])
    at, interval = ends(mean, cov, df)
    return {
        "tips": data,
        "line": [float(v) for v in mean],
        "p": p,
        "correlation": rho,
        "slope": [float(mean[1] - half), float(mean[1] + half)],
        "at": at,
        "interval": interval,
        "mixed": mixed(tips) if len(tips) > 3 else None,
        "gee": gee(tips) if len(tips) > 3 and len({len(x) for x, _ in tips}) == 1 else None,
    }


def evidence():
    """The e-value of Student's (1908) sleep data by quadrature over a standard normal effect."""
    from scipy.integrate import quad

    one = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
    two = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
    t = stats.ttest_ind(two, one).statistic
    density = lambda d: stats.norm.pdf(d) * stats.nct.pdf(t, 18, d * math.sqrt(5))
    return float(quad(density, -8, 8)[0] / stats.t.pdf(t, 18))


def sizes():
    """Fewest tips of each grind for 80 % power of the two-sided t test, by the noncentral t."""
    out = []
    for level in (0.95, 0.975, 0.99, 0.995):
        for variance in (0.1, 0.3, 0.7, 1.5, 4.0, 10.0):
            n, power = 1, 0.0
            while power < 0.8:
                n += 1
                df, centre = 2 * n - 2, math.sqrt(n / 2 / variance)
                cut = stats.t.ppf(0.5 + level / 2, df)
                power = stats.nct.sf(cut, df, centre) + stats.nct.cdf(-cut, df, centre)
            out.append([level, variance, n])
    return out


def main():
    rng = np.random.default_rng(20261126)
    found = {"tables": [table(rng, i) for i in range(36)], "sizes": sizes(), "sleep_e": evidence()}
    text = json.dumps(found, allow_nan=False) + "\n"
    if "--check" in sys.argv:
        sys.exit(0 if json.loads(FILE.read_text()) == json.loads(text) else 1)
    FILE.write_text(text)


if __name__ == "__main__":
    main()
