"""Reference values for spectrum, wander and slopes, by the same steps in NumPy and SciPy.

Writes start.json beside this file; with --check recomputes it and fails where the stored file differs.
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy import signal, stats

OUT = Path(__file__).with_suffix(".json")
RATE = 4000.0
BAND = (2.0, 200.0)


def series(n):
    """A series that both sides make the same way: a few sines of unrelated frequency."""
    k = np.arange(n)
    return (
        0.2 * np.sin(2 * np.pi * 7.3 * k / RATE + 0.3)
        + 0.1 * np.sin(2 * np.pi * 41.7 * k / RATE + 1.1)
        + 0.05 * np.sin(2 * np.pi * 133.1 * k / RATE + 2.2)
        + 0.4 * np.sin(2 * np.pi * 700.0 * k / RATE)
    )


def later(n):
    """The series 13 samples later, and something of its own."""
    moved = np.concatenate([np.full(13, series(1)[0]), series(n - 13)])
    return 0.7 * moved + 0.3 * np.sin(0.011 * np.arange(n) + 0.4)


def cross(n, segment, bins):
    _, p = density(series(n), later(n), RATE, segment)
    return [[float(p[k].real), float(p[k].imag)] for k in bins]


def density(a, b, fs, segment):
    """Welch's average of the densities of segments that are spread evenly and overlap by half or more."""
    last = len(a) - segment
    steps = -(-last // (segment - segment // 2))
    starts = [k * last // max(steps, 1) for k in range(steps + 1)]
    parts = [signal.csd(a[s : s + segment], b[s : s + segment], fs, nperseg=segment) for s in starts]
    return parts[0][0], np.mean([p for _, p in parts], axis=0)


def welch(x, fs, segment):
    f, p = density(x, x, fs, segment)
    return f, p.real


def current(n):
    k = np.arange(n)
    return 80 + 6 * np.sin(2 * np.pi * 1.7 * k / RATE) + 0.5 * np.sin(2 * np.pi * 11.0 * k / RATE)


def volts(n):
    t = np.arange(n) / RATE
    return 9.4 + 0.045 * current(n) + 1.2 * np.exp(-(t + 0.012) / 0.06) + series(n)


def band(x, fs):
    f, p = welch(x, fs, int(round(0.5 * fs)))
    inside = (f >= BAND[0]) & (f <= BAND[1])
    df = f[1] - f[0]
    return float(np.sqrt(p[inside].sum() * df)), float(f[inside][np.argmax(p[inside])])


def lines_out(x, fs, lines):
    power = 0.0
    k = np.arange(len(x))
    for f in lines:
        basis = np.column_stack([np.cos(2 * np.pi * f * k / fs), np.sin(2 * np.pi * f * k / fs)])
        fit, *_ = np.linalg.lstsq(basis, x, rcond=None)
        x = x - basis @ fit
        power += 0.5 * (fit**2).sum()
    return x, float(np.sqrt(power))


def residual(v, i, after):
    best = None
    for step in range(40):
        tau = 0.005 * (0.3 / 0.005) ** (step / 39)
        basis = np.column_stack([np.ones_like(v), np.exp(-after / tau), i])
        fit, *_ = np.linalg.lstsq(basis, v, rcond=None)
        rest = v - basis @ fit
        if best is None or rest @ rest < best @ best:
            best = rest
    return best


def compute():
    n = 3900
    plain = series(n)
    f, p = welch(plain, RATE, 2000)
    after = np.arange(n) / RATE + 0.012
    rest = residual(volts(n), current(n), after)
    clean, hum = lines_out(rest, RATE, [50.0 * k for k in range(1, 9)])
    rms, strongest = band(clean, RATE)
    x = np.arange(60.0)
    y = 0.02 * x + np.sin(x * 1.7)
    odd = series(1501)
    return {
        "welch": {"bins": [1, 4, 20, 21, 66, 350], "power": [float(p[k]) for k in (1, 4, 20, 21, 66, 350)],
                  "rms": band(plain, RATE)[0], "strongest_hz": band(plain, RATE)[1]},
        "welch_odd": {"power": [float(q) for q in welch(odd, RATE, 701)[1][:6]]},
        "cross": cross(n, 2000, (0, 1, 4, 20, 21, 66, 350)),
        "cross_short": cross(n, 64, (0, 1, 11, 31, 32)),
        "cross_odd": cross(n, 701, range(6)),
        "wander": {"rms": rms, "strongest_hz": strongest, "hum_rms": hum,
                   "residual": [float(rest[k]) for k in (0, 100, 2000, 3899)]},
        "mavro": mavro_values(),
        "theil_sen": float(stats.theilslopes(y, x)[0]),
    }


def mavro():
    """NIST StRD Mavro: 50 values at 10 a second, certified sd 0.000429123454003053, lag-1 0.937989183438248."""
    lines = (OUT.parent.parent / "data" / "nist" / "Mavro.dat").read_text().split()
    x = np.array([float(w) for w in lines[-50:]])
    return x


def mavro_values():
    x = mavro()
    f, p = signal.welch(x, 10.0, nperseg=50)
    d = x - x.mean()
    return {
        "sd": float(x.std(ddof=1)),
        "lag1": float((d[1:] * d[:-1]).sum() / (d * d).sum()),
        "rms": float(np.sqrt(p[(f >= 0.2) & (f <= 2.0)].sum() * (f[1] - f[0]))),
        "slope_per_s": float(stats.theilslopes(x, np.arange(50) / 10.0)[0]),
    }


def close(a, b):
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(close(a[k], b[k]) for k in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(map(close, a, b))
    return abs(a - b) <= 1e-9 * max(1e-12, abs(a))


if __name__ == "__main__":
    values = compute()
    if "--check" in sys.argv:
        if not close(json.loads(OUT.read_text()), values):
            sys.exit(f"{OUT.name} is not what this script computes")
    else:
        OUT.write_text(json.dumps(values, indent=1) + "\n")
