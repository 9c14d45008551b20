"""Reference values for comparisons by tips: statsmodels' MixedLM (REML), GEE and OLS with HC2 errors.

Writes tips.json beside this file; with --check recomputes and exits 1 where the stored file differs.
"""

import json
import math
import pathlib
import sys
import warnings

import numpy as np
from statsmodels.genmod.cov_struct import Exchangeable, Independence
from statsmodels.genmod.generalized_estimating_equations import GEE
from statsmodels.regression.linear_model import OLS
from statsmodels.regression.mixed_linear_model import MixedLM

warnings.filterwarnings("ignore")
FILE = pathlib.Path(__file__).with_suffix(".json")
TABLES = 36
RATES = 12


def draw(rng, cells, coupons_of):
    """Starts as [group, tip, coupon, value]; `cells` lists (group, coupon or None) a tip, `coupons_of` a tip's coupons."""
    levels = 5 * rng.normal(size=8)
    starts = []
    for tip, (group, coupon) in enumerate(cells):
        own = 3 * rng.normal()
        for place in coupons_of(coupon):
            value = 80 + 4 * group + levels[place] + own + 4 * rng.normal()
            starts.append([group, tip, place, float(round(value, 6))])
    return starts


def make(rng, index):
    """One coupon; unequal tips on several; each tip on every coupon. Starts a tip are equal in number."""
    kind = ("one", "blocks", "crossed")[index % 3]
    tips, starts, coupons = (int(n) for n in (rng.integers(3, 9), rng.integers(2, 6), rng.integers(2, 5)))
    if kind == "blocks":
        cells = [(g, c) for c in range(coupons) for g in (0, 1) for _ in range(int(rng.integers(1, 5)))]
        return kind, draw(rng, cells, lambda coupon: [coupon] * starts)
    cells = [(g, None) for g in (0, 1) for _ in range(tips)]
    places = [0] * starts if kind == "one" else list(range(coupons)) * starts
    return kind, draw(rng, cells, lambda _: places)


def design(group, coupon):
    """Intercept, grind, and an indicator of each coupon but the first."""
    others = np.unique(coupon)[1:]
    return np.column_stack([np.ones(len(group)), group, *[(coupon == c).astype(float) for c in others]])


def mixed(group, tip, coupon, value):
    """Grind effect and its error by REML with a random level a tip; None where no level is found."""
    fit = MixedLM(value, design(group, coupon), tip).fit(reml=True, method=["powell", "bfgs"])
    found = [float(fit.fe_params[1]), float(fit.bse_fe[1])]
    edge = fit.cov_re[0, 0] < 1e-2 * fit.scale or not fit.converged
    return None if edge or not all(map(math.isfinite, found)) else found


def gee(group, tip, coupon, value, structure):
    """Grind effect with the robust error, and with Mancl and DeRouen's (2001) bias-reduced one."""
    out = []
    for kind in ("robust", "bias_reduced"):
        model = GEE(value, design(group, coupon), tip, cov_struct=structure())
        fit = model.fit(cov_type=kind)
        out += [float(fit.params[1]), float(fit.bse[1])]
    return [out[0], out[1], out[3]]


def hc2(group, tip, coupon, value):
    """Grind effect and its error by least squares on the tips' means, error HC2 (MacKinnon and White 1985)."""
    tips = np.unique(tip)
    first = [np.flatnonzero(tip == t)[0] for t in tips]
    means = np.array([value[tip == t].mean() for t in tips])
    fit = OLS(means, design(group[first], coupon[first])).fit(cov_type="HC2")
    return [float(fit.params[1]), float(fit.bse[1])]


def table(rng, index):
    kind, starts = make(rng, index)
    group, tip, coupon = (np.array([s[k] for s in starts]) for k in range(3))
    value = np.array([s[3] for s in starts])
    columns = (group.astype(float), tip, coupon, value)
    return {
        "kind": kind,
        "starts": starts,
        "mixed": mixed(*columns) if kind != "blocks" else None,
        "gee": gee(*columns, Independence),
        "hc2": hc2(*columns) if kind != "crossed" else None,
    }


def rates(rng):
    """Rough starts of equal numbers a tip, the tips' own rates from a beta distribution: counts, and GEE's difference."""
    tips, starts, share = int(rng.integers(6, 13)), int(rng.integers(4, 9)), 0.1
    size = 1 / share - 1
    counts = [
        [g, int(rng.binomial(starts, rng.beta(p * size, (1 - p) * size)))]
        for g, p in ((0, 0.2), (1, 0.4))
        for _ in range(tips)
    ]
    group = np.repeat([float(g) for g, _ in counts], starts)
    tip = np.repeat(np.arange(len(counts)), starts)
    value = np.concatenate([[1.0] * k + [0.0] * (starts - k) for _, k in counts])
    return {
        "starts": starts,
        "tips": counts,
        "gee": gee(group, tip, np.zeros(len(group)), value, Exchangeable),
    }


def same(stored, now):
    """Equal but for what other versions of the libraries round."""
    if isinstance(now, dict):
        return stored.keys() == now.keys() and all(same(stored[k], now[k]) for k in now)
    if isinstance(now, list):
        return len(stored) == len(now) and all(map(same, stored, now))
    if isinstance(now, float):
        return math.isclose(stored, now, rel_tol=1e-6, abs_tol=1e-9)
    return stored == now


def main():
    rng = np.random.default_rng(20261127)
    found = {
        "tables": [table(rng, i) for i in range(TABLES)],
        "rates": [rates(rng) for _ in range(RATES)],
    }
    text = json.dumps(found, allow_nan=False, separators=(",", ":")) + "\n"
    if "--check" in sys.argv[1:]:
        sys.exit(0 if same(json.loads(FILE.read_text()), json.loads(text)) else 1)
    FILE.write_text(text)


if __name__ == "__main__":
    main()
