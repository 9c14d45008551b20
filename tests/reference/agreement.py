"""Reference values for agreement of two ways to measure: numpy's mean and deviation, SciPy's t, normal, χ² and beta quantiles.

Writes agreement.json beside this file; with --check recomputes and exits 1 where the stored file differs.
"""

import json
import math
import pathlib
import sys

import numpy as np
from scipy import stats

FILE = pathlib.Path(__file__).with_suffix(".json")
TABLES = 24


def agreement(differences, level):
    """Bias, deviation, limits and their intervals (Bland & Altman 1999)."""
    d = np.asarray(differences)
    n, bias, sd = len(d), d.mean(), d.std(ddof=1)
    t, z = stats.t.ppf(0.5 + level / 2, n - 1), stats.norm.ppf(0.975)
    half = t * sd * math.sqrt(1 / n + z * z / (2 * (n - 1)))
    at = t * sd / math.sqrt(n)
    lower, upper = bias - z * sd, bias + z * sd
    return [bias, bias - at, bias + at, sd, lower, lower - half, lower + half, upper, upper - half, upper + half]


def poisson(k, exposure, level):
    """Garwood's interval of a rate."""
    tail = (1 - level) / 2
    lo = stats.chi2.ppf(tail, 2 * k) / 2 if k else 0.0
    return [lo / exposure, stats.chi2.ppf(1 - tail, 2 * k + 2) / 2 / exposure]


def make():
    rng = np.random.default_rng(1986)
    tables = []
    for index in range(TABLES):
        level = (0.9, 0.95, 0.99)[index % 3]
        n = int(rng.integers(2, 60))
        d = [float(round(x, 6)) for x in rng.normal(rng.normal(), rng.lognormal(), n)]
        tables.append({"differences": d, "level": level, "agreement": [float(x) for x in agreement(d, level)]})
    rates = []
    for k in (0, 1, 2, 5, 17):
        for exposure, level in ((1.0, 0.95), (0.16, 0.95), (12.5, 0.9)):
            rates.append({"k": k, "exposure": exposure, "level": level, "interval": [float(x) for x in poisson(k, exposure, level)]})
    return {"tables": tables, "rates": rates}


def same(a, b):
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(map(same, a, b))
    return math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-12) if isinstance(a, float) else a == b


made = make()
if "--check" in sys.argv:
    sys.exit(0 if same(made, json.loads(FILE.read_text())) else f"{FILE.name} differs")
FILE.write_text(json.dumps(made, indent=1) + "\n")
