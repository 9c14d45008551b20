"""Samples of the tiny recordings as SciPy's wavfile and pandas read them.

Writes recordings.json beside this file; with --check recomputes it and fails where the stored file differs.
"""

import json
import sys
from pathlib import Path

import pandas
from scipy.io import wavfile

OUT = Path(__file__).with_suffix(".json")
FOLDER = Path(__file__).parent.parent / "recordings"
WAVES = ["u8-1", "i16-1", "i16-2", "i16-3", "i16-8", "i24-2", "i32-2", "f32-2", "i16-extensible", "i24-extensible",
         "f32-extensible", "i24-in-32", "odd-chunk-before", "chunk-after", "format-of-18", "fact", "rf64"]
TABLES = {
    "comma.csv": {}, "crlf.csv": {}, "mark.csv": {}, "quoted.csv": {}, "packed.csv.gz": {}, "text-column.csv": {},
    "tab.csv": {"sep": "\t"},
    "semicolon-decimal-comma.csv": {"sep": ";", "decimal": ","},
    "utf16-le.csv": {"encoding": "utf-16"}, "utf16-be.csv": {"encoding": "utf-16"},
    "latin1.csv": {"encoding": "latin-1"},
    "preamble.csv": {"skiprows": 4}, "blank-lines.csv": {},
    "returns.csv": {"lineterminator": "\r"},
}
FULL_SCALE = {"uint8": 128.0, "int16": 32768.0, "int32": 2147483648.0, "float32": 1.0}


def wave(name):
    _, samples = wavfile.read(FOLDER / f"{name}.wav")
    full = FULL_SCALE[str(samples.dtype)]
    samples = samples.astype(float) - (128.0 if full == 128.0 else 0.0)
    samples = samples.reshape(len(samples), -1)
    volts = samples[:, -1].tolist() if samples.shape[1] > 1 else []
    return {"full_scale": full, "amps": samples[:, 0].tolist(), "volts": volts}


def table(name, how):
    # pandas' own parser is off by a unit in the last place unless told to be exact.
    rows = pandas.read_csv(FOLDER / name, float_precision="round_trip", **how)
    return {"full_scale": 1.0, "amps": rows.iloc[:, 1].tolist(), "volts": rows.iloc[:, 2].tolist()}


def main():
    found = {f"{name}.wav": wave(name) for name in WAVES}
    found |= {name: table(name, how) for name, how in TABLES.items()}
    text = json.dumps(found, separators=(",", ":")).replace("}},", "}},\n").replace("},", "},\n") + "\n"
    if "--check" in sys.argv:
        if OUT.read_text() != text:
            sys.exit(f"{OUT.name} differs from what is computed here")
        return
    OUT.write_text(text)


main()
