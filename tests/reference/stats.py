"""Reference values for the statistics: 200 random tables through SciPy and statsmodels.

Writes stats.json beside this file; with --check recomputes and exits 1 where the stored file differs.
"""

import json
import math
import pathlib
import sys
import warnings

import numpy as np
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

warnings.filterwarnings("ignore")
FILE = pathlib.Path(__file__).with_suffix(".json")
TABLES = 200
LEVEL = 0.95


def sample(rng, size, decimals):
    values = rng.gamma(2.0, 20.0, size).round(decimals)
    return [float(v) for v in values]


def make_data(rng, index):
    """Small samples; every third table is full of ties, some samples have one value only."""
    decimals = -1 if index % 3 == 0 else 3
    high = 3 if index % 5 == 0 else 14
    sizes = rng.integers(1, high + 1, 3)
    if index % 20 == 7:
        sizes[1] = 60
    trend = int(rng.integers(3, 13))
    n_a, n_b = (int(n) for n in rng.integers(1, 80, 2))
    return {
        "groups": [sample(rng, int(n), decimals) for n in sizes],
        "second_block": [sample(rng, int(n), decimals) for n in rng.integers(1, 8, 2)],
        "x": [float(v) for v in (rng.integers(0, 6, trend) if index % 2 else np.arange(trend))],
        "y": sample(rng, trend, decimals),
        "counts": [int(rng.integers(0, n_a + 1)), n_a, int(rng.integers(0, n_b + 1)), n_b],
        "p_values": [float(p) for p in rng.uniform(0, 0.2, int(rng.integers(1, 7))).round(4)],
    }


def van_elteren(blocks):
    """z of b against a by the definition: rank sums weighted 1/(N + 1), permutation variance."""
    total = variance = 0.0
    for a, b in blocks:
        ranks = stats.rankdata(a + b)
        n, m = len(a), len(b)
        weight = 1 / (n + m + 1)
        total += weight * (ranks[n:].sum() - m * ranks.mean())
        variance += weight**2 * n * m / (n + m) * ranks.var(ddof=1)
    return total / math.sqrt(variance) if variance > 0 else 0.0


def ranks(data):
    a, b, _ = data["groups"]
    test = stats.mannwhitneyu(a, b)
    differences = np.subtract.outer(b, a).ravel()
    blocks = [(a, b), tuple(data["second_block"])]
    answer = {
        "u": float(test.statistic),
        "p": float(test.pvalue),
        "shift": float(np.median(differences)),
        "cliffs_delta": float(np.sign(differences).mean()),
        "van_elteren_z": float(van_elteren(blocks)),
    }
    everything = sum(data["groups"], [])
    if len(set(everything)) > 1:
        kruskal = stats.kruskal(*data["groups"])
        answer["kruskal"] = [float(kruskal.statistic), float(kruskal.pvalue)]
    return answer


def rates(data):
    k_a, n_a, k_b, n_b = data["counts"]
    table = [[k_a, n_a - k_a], [k_b, n_b - k_b]]
    exact = stats.binomtest(k_a, n_a).proportion_ci(LEVEL, "exact")
    newcombe = confint_proportions_2indep(k_b, n_b, k_a, n_a, method="newcomb", compare="diff")
    sides = ("two-sided", "less", "greater")
    return {
        "clopper_pearson": [float(exact.low), float(exact.high)],
        "wilson": [float(v) for v in proportion_confint(k_a, n_a, 1 - LEVEL, "wilson")],
        "newcombe": [float(v) for v in newcombe],
        "fisher": [float(stats.fisher_exact(table, side).pvalue) for side in sides],
        "holm": [float(p) for p in multipletests(data["p_values"], method="holm")[1]],
    }


def trend(data):
    x, y = data["x"], data["y"]
    answer = {}
    if len(set(x)) > 1:
        fit = stats.theilslopes(y, x, LEVEL)
        answer["theil_sen"] = [float(fit.slope), float(fit.intercept)]
        if len(set(x)) == len(x):
            # With ties in x SciPy's interval leaves out the terms for ties in x and y together.
            answer["theil_sen_interval"] = [float(fit.low_slope), float(fit.high_slope)]
        if len(set(y)) > 1:
            answer["kendall_normal_p"] = float(stats.kendalltau(x, y, method="asymptotic").pvalue)
            if len(set(x)) == len(x) and len(set(y)) == len(y):
                answer["kendall_exact_p"] = float(stats.kendalltau(x, y, method="exact").pvalue)
    return answer


def distributions():
    z = [-37.5, -8.0, -3.0, -1.96, -0.5, 0.0, 0.1, 1.0, 2.5, 5.0]
    p = [1e-12, 1e-6, 0.001, 0.025, 0.05, 0.2, 0.5, 0.8, 0.9, 0.975, 0.9999]
    return {
        "normal_cdf": [[v, float(stats.norm.cdf(v))] for v in z],
        "normal_quantile": [[v, float(stats.norm.ppf(v))] for v in p],
    }


def compute():
    rng = np.random.default_rng(20240611)
    tables = []
    for index in range(TABLES):
        data = make_data(rng, index)
        tables.append({"data": data, **ranks(data), **rates(data), **trend(data)})
    return {"distributions": distributions(), "tables": tables}


def differences(stored, now, where="$"):
    if isinstance(now, dict) and isinstance(stored, dict) and now.keys() == stored.keys():
        return [d for k in now for d in differences(stored[k], now[k], f"{where}.{k}")]
    if isinstance(now, list) and isinstance(stored, list) and len(now) == len(stored):
        return [d for i, v in enumerate(now) for d in differences(stored[i], v, f"{where}[{i}]")]
    if isinstance(now, (int, float)) and isinstance(stored, (int, float)):
        close = math.isclose(stored, now, rel_tol=1e-12, abs_tol=1e-300)
        return [] if close else [f"{where}: stored {stored}, now {now}"]
    return [] if stored == now else [f"{where}: stored and computed differ in kind"]


def main():
    now = compute()
    if "--check" not in sys.argv[1:]:
        rows = ",\n".join(json.dumps(t, separators=(",", ":")) for t in now["tables"])
        head = json.dumps(now["distributions"], separators=(",", ":"))
        FILE.write_text(f'{{"distributions":{head},\n"tables":[\n{rows}\n]}}\n')
        return
    found = differences(json.loads(FILE.read_text()), now)
    for line in found[:20]:
        print(f"{FILE.name} {line}")
    sys.exit(1 if found else 0)


main()
