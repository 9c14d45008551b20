"""Hum and noise floor of a made idle trace, by SciPy.

Writes health.json beside this file; with --check recomputes it and fails where the stored file differs.
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy import signal, stats

OUT = Path(__file__).with_suffix(".json")
RATE = 20_000.0
FRAMES = 16_384
# Frames of a cell at this rate: noise is taken about the median of each.
CELL = 256


def noise(n):
    """White noise of 0.2 A rms that both sides make the same way: a linear congruential generator, twelve to a value."""
    state, values = 1, []
    for _ in range(n):
        total = 0.0
        for _ in range(12):
            state = (state * 1_664_525 + 1_013_904_223) % 2**32
            total += state / 2**32
        values.append(0.2 * (total - 6.0))
    return np.array(values)


def hum(n, hz):
    k = np.arange(n)
    tone = lambda harmonic, phase: np.sin(2 * np.pi * hz * harmonic * k / RATE + phase)
    return 0.5 * tone(1, 0.3) + 0.1 * tone(2, 1.1) + 0.25 * tone(3, 2.2) + 0.3 * tone(7, 0.0)


def hum_rms(x, hz):
    """Rms of the fundamental and two harmonics: the chirp z-transform at just these frequencies, over whole periods."""
    x = x[: int(round(int(len(x) * hz / RATE) * RATE / hz))]
    at = lambda f: signal.czt(x - x.mean(), m=1, a=np.exp(2j * np.pi * f / RATE))[0]
    return float(np.sqrt(sum(2 * abs(at(hz * h)) ** 2 for h in (1, 2, 3))) / len(x))


def noise_rms(x):
    cells = x.reshape(-1, CELL)
    deviations = cells - np.median(cells, axis=1, keepdims=True)
    return float(stats.median_abs_deviation(deviations, axis=None, center=lambda d, axis: 0.0, scale="normal"))


def compute():
    made = 0.3 + noise(FRAMES)
    return {
        "hum_50": hum_rms(made + hum(FRAMES, 50.0), 50.0),
        "hum_60": hum_rms(made + hum(FRAMES, 60.0), 60.0),
        "noise": noise_rms(made),
        "noise_sd": float(made.std()),
    }


def close(a, b):
    return a.keys() == b.keys() and all(abs(a[k] - b[k]) <= 1e-9 * abs(a[k]) for k in a)


if __name__ == "__main__":
    values = compute()
    if "--check" in sys.argv:
        if not close(json.loads(OUT.read_text()), values):
            sys.exit(f"{OUT.name} is not what this script computes")
    else:
        OUT.write_text(json.dumps(values, indent=1) + "\n")
