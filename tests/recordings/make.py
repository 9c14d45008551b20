#!/usr/bin/env python3
"""Writes the tiny recordings beside this file, good and broken, and expected.json: what must come out of each.

The files are committed; this script tells how they were made. Usage: make.py (plain Python 3, no packages).
"""
import gzip
import json
import struct
from pathlib import Path

HERE = Path(__file__).parent
EXPECTED = {}
FRAMES = 40
RATE = 8000


def wave(channel, k):
    """Parts of full scale: idle, then a level with a ripple."""
    on = 10 <= k < 34
    return (0.5 + 0.03 * (k % 5) if on else 0.01 * (k % 3)) * (1 if channel % 2 == 0 else -0.4)


def sample(coding, value):
    if coding == "u8":
        return struct.pack("<B", round(value * 127) + 128)
    if coding == "i16":
        return struct.pack("<h", round(value * 32767))
    if coding == "i24":
        return struct.pack("<i", round(value * 8388607))[:3]
    if coding == "i24in32":
        return struct.pack("<i", round(value * 8388607) << 8)
    if coding == "i32":
        return struct.pack("<i", round(value * 2147483647))
    if coding == "f64":
        return struct.pack("<d", value)
    return struct.pack("<f", value)


BYTES = {"u8": 1, "i16": 2, "i24": 3, "i24in32": 4, "i32": 4, "f32": 4, "f64": 8}
PCM = bytes.fromhex("0100000000001000800000aa00389b71")
FLOAT = bytes.fromhex("0300000000001000800000aa00389b71")


def data(coding, channels, frames=FRAMES):
    return b"".join(sample(coding, wave(c, k)) for k in range(frames) for c in range(channels))


def fmt(coding, channels, tag=None, size=16, rate=RATE, bits=None, valid=None, byte_rate=None):
    width = BYTES[coding]
    floating = coding in ("f32", "f64")
    tag = tag if tag is not None else (3 if floating else 1)
    body = struct.pack(
        "<HHIIHH", tag, channels, rate, byte_rate or rate * width * channels, width * channels, bits or 8 * width)
    if size == 18:
        body += b"\0\0"
    if size == 40:
        body += struct.pack("<HHI", 22, valid or 8 * width, 0) + (FLOAT if floating else PCM)
    return body


def chunk(name, body, size=None, pad=True):
    size = len(body) if size is None else size
    return name + struct.pack("<I", size) + body + (b"\0" if pad and len(body) % 2 else b"")


def riff(*chunks, form=b"RIFF", size=None):
    body = b"WAVE" + b"".join(chunks)
    return form + struct.pack("<I", len(body) if size is None else size) + body


def put(name, content, **expected):
    (HERE / name).write_bytes(content)
    EXPECTED[name] = expected


def good(name, content, channels=1, frames=FRAMES, flags=(), **more):
    logger = "current = { channel = 1, amps_at_full_scale = 1.0, offset = 0.0 }"
    if channels > 1:
        logger += f"\nvoltage = {{ channel = {channels}, volts_at_full_scale = 1.0, offset = 0.0 }}"
    put(name, content, logger=logger, frames=frames, rate_hz=RATE, segments=1, flags=list(flags), **more)


def bad(name, content, sentence, logger="current = { channel = 1, amps_at_full_scale = 1.0 }"):
    put(name, content, logger=logger, error=sentence)


def waves():
    for coding, channels in [("u8", 1), ("i16", 1), ("i16", 2), ("i16", 3), ("i16", 8), ("i24", 2), ("i32", 2), ("f32", 2)]:
        good(f"{coding}-{channels}.wav", riff(chunk(b"fmt ", fmt(coding, channels)), chunk(b"data", data(coding, channels))), channels)
    for coding in ["i16", "i24", "f32"]:
        good(f"{coding}-extensible.wav",
             riff(chunk(b"fmt ", fmt(coding, 2, tag=0xFFFE, size=40)), chunk(b"data", data(coding, 2))), 2)
    good("i24-in-32.wav",
         riff(chunk(b"fmt ", fmt("i24in32", 2, tag=0xFFFE, size=40, valid=24)), chunk(b"data", data("i24in32", 2))), 2)
    plain, body = chunk(b"fmt ", fmt("i16", 2)), data("i16", 2)
    good("odd-chunk-before.wav", riff(chunk(b"LIST", b"abcde"), plain, chunk(b"data", body)), 2)
    good("odd-chunk-unpadded.wav", riff(chunk(b"LIST", b"abcde", pad=False), plain, chunk(b"data", body)), 2)
    good("chunk-after.wav", riff(plain, chunk(b"data", body), chunk(b"LIST", b"abc")), 2)
    good("format-of-18.wav", riff(chunk(b"fmt ", fmt("i16", 2, size=18)), chunk(b"data", body)), 2)
    good("fact.wav", riff(chunk(b"fmt ", fmt("f32", 2, size=18)), chunk(b"fact", struct.pack("<I", FRAMES)),
                          chunk(b"data", data("f32", 2))), 2)
    good("wrong-byte-rate.wav", riff(chunk(b"fmt ", fmt("i16", 2, byte_rate=7)), chunk(b"data", body)), 2)
    good("length-0.wav", riff(plain, chunk(b"data", body, size=0)), 2, flags=["cut_short"])
    good("length-too-large.wav", riff(plain, chunk(b"data", body, size=10 ** 6)), 2, flags=["cut_short"])
    good("length-unknown.wav", riff(plain, chunk(b"data", body, size=0xFFFFFFFF)), 2, flags=["cut_short"])
    good("half-frame.wav", riff(plain, chunk(b"data", body[:-3])), 2, frames=FRAMES - 1, flags=["cut_short"])
    whole = 4 + (8 + 28) + len(plain) + 8 + len(body)
    long = chunk(b"ds64", struct.pack("<QQQI", whole, len(body), FRAMES, 0))
    for form in [b"RF64", b"BW64"]:
        good(f"{form.decode().lower()}.wav",
             riff(long, plain, chunk(b"data", body, size=0xFFFFFFFF), form=form, size=0xFFFFFFFF), 2)
    bad("empty-data.wav", riff(plain, chunk(b"data", b""), chunk(b"LIST", b"abcd")), "no complete frame")
    bad("adpcm.wav", riff(chunk(b"fmt ", fmt("i16", 1, tag=2)), chunk(b"data", body)), "format tag 2")
    bad("12-bit.wav", riff(chunk(b"fmt ", fmt("i16", 1, bits=12)), chunk(b"data", body)), "multiple of 8")
    bad("f64.wav", riff(chunk(b"fmt ", fmt("f64", 1)), chunk(b"data", data("f64", 1))), "32")
    bad("no-channels.wav", riff(chunk(b"fmt ", fmt("i16", 0)), chunk(b"data", body)), "0 channels")
    bad("9-channels.wav", riff(chunk(b"fmt ", fmt("i16", 9)), chunk(b"data", body)), "9 channels")
    bad("rate-0.wav", riff(chunk(b"fmt ", fmt("i16", 1, rate=0)), chunk(b"data", body)), "rate is 0")
    bad("no-data.wav", riff(plain, chunk(b"LIST", b"abcd")), "no data chunk")
    bad("no-format.wav", riff(chunk(b"data", body)), "format chunk is missing")
    bad("channel-3-of-2.wav", riff(plain, chunk(b"data", body)), "channel = 3",
        "current = { channel = 3, amps_at_full_scale = 1.0 }")
    bad("no-scale.wav", riff(plain, chunk(b"data", body)), "no scale", "current = { channel = 1 }")
    bad("not-a-number.wav", riff(chunk(b"fmt ", fmt("f32", 1)), chunk(b"data", struct.pack("<4f", 0, float("nan"), 1, 1))), "not finite")
    bad("big-endian.wav", riff(plain, chunk(b"data", body), form=b"RIFX"), "nor a table with rows of numbers")


def numbers(k):
    return 80.0 + 0.25 * (k % 7) if 10 <= k < 34 else 0.0, 13.5 - 0.5 * (k % 3) if 10 <= k < 34 else 70.0


def rows(split=",", form=str, time=lambda k: f"{k * 0.000125:.6f}", keep=lambda k: True, more=""):
    return [split.join([time(k), form(numbers(k)[0]), form(numbers(k)[1])]) + more for k in range(FRAMES) if keep(k)]


def table(name, lines, frames=FRAMES, segments=1, flags=(), rate=RATE, logger="", end="\n", code="utf-8", pack=None, **more):
    content = (end.join(lines) + end).encode(code)
    put(name, pack(content) if pack else content,
        logger=logger, frames=frames, rate_hz=rate, segments=segments, flags=list(flags), **more)


def refused(name, lines, sentence, logger=""):
    put(name, ("\n".join(lines) + "\n").encode(), logger=logger, error=sentence)


def zipped(content):
    return gzip.compress(content, mtime=0)


def clock(k):
    return f"10:59:59.{900000 + k * 125:06d}" if k < 800 else ""


def tables():
    head = "time_s,current_a,voltage_v"
    comma = lambda x: str(x).replace(".", ",")
    table("comma.csv", [head, *rows()])
    table("semicolon-decimal-comma.csv", ["Zeit (s);Strom (A);Spannung (V)", *rows(";", comma, lambda k: comma(f"{k * 0.000125:.6f}"))])
    table("tab.csv", ["time_s\tcurrent_a\tvoltage_v", *rows("\t")])
    table("preamble.csv", ["Cell 3", "Rate,8000", "Date,2026-11-02", "", head, *rows()])
    table("units-row.csv", ["Time,Current,Voltage", "s,A,V", *rows()])
    table("quoted.csv", ['"time, since start (s)","current (A)","voltage (V)"', *['"' + r.replace(",", '","') + '"' for r in rows()]])
    table("crlf.csv", [head, *rows()], end="\r\n")
    table("returns.csv", [head, *rows()], end="\r")
    table("mark.csv", [head, *rows()], code="utf-8-sig")
    table("utf16-le.csv", ["\ufeff" + head, *rows()], code="utf-16-le")
    table("utf16-be.csv", ["\ufeff" + head, *rows()], code="utf-16-be")
    table("utf16-bare.csv", [head, *rows()], code="utf-16-le")
    table("blank-lines.csv", [head, "", *[r + "\n" for r in rows()]])
    table("comments.csv", ["# cell 3", "#" + head, *[x for r in rows() for x in (r, "# a note")]])
    table("packed.csv.gz", [head, *rows()], pack=zipped)
    table("packed-cut.csv.gz", [head, *rows()], pack=lambda c: zipped(c)[:-60], frames=None, flags=["cut_short"])
    table("milliseconds.csv", ["time (ms),current (A),voltage (V)", *rows(time=lambda k: f"{k * 0.125:.3f}")])
    table("microseconds.csv", ["time (µs),current (A),voltage (V)", *rows(time=lambda k: str(k * 125))])
    table("latin1.csv", ["time (µs),current (A),voltage (V)", *rows(time=lambda k: str(k * 125))], code="latin-1")
    table("milliamps.csv", ["time_s,current_ma,voltage_mv", *rows(form=lambda x: str(1000 * x))])
    table("clock.csv", ["time,current_a,voltage_v", *rows(time=clock)])
    table("date-and-time.csv", ["time,current_a,voltage_v", *rows(time=lambda k: f"2026-11-02 {clock(k)}")])
    table("midnight.csv", ["time,current_a,voltage_v", *rows(
        time=lambda k: f"23:59:59.{997500 + k * 125:06d}" if k < 20 else f"00:00:00.{(k - 20) * 125:06d}")])
    table("no-time.csv", ["current_a,voltage_v", *[r.split(",", 1)[1] for r in rows()]], logger="rate_hz = 8000")
    table("no-header.csv", rows(), logger="time = { channel = 1, unit = \"s\" }\n"
          "current = { channel = 2, amps_per_unit = 1.0 }\nvoltage = { channel = 3, volts_per_unit = 1.0 }")
    table("text-column.csv", [head + ",state", *rows(more=",ok")])
    table("ragged-end.csv", [head + ",", *rows(more=",")])
    table("shunt.csv", ["time_s,shunt_mv", *[",".join([r.split(",")[0], str(float(r.split(",")[1]) * 0.3)]) for r in rows()]],
          logger='current = { column = "shunt_mv", shunt = { amps = 200, millivolts = 60 }, offset = 0.0 }')
    gap = lambda k: not 15 <= k < 20
    table("gap.csv", [head, *rows(keep=gap)], frames=FRAMES - 5, segments=2, flags=["gap"])
    table("one-lost.csv", [head, *rows(keep=lambda k: k != 15)], flags=["uneven_time"])
    lines = rows()
    table("repeated-header.csv", [head, *lines[:20], head, *lines[:20]], segments=2, flags=["gap"])
    table("twice.csv", [head, *lines[:20], lines[19], *lines[20:]], frames=FRAMES + 1, segments=2, flags=["gap"])
    table("backward.csv", [head, *lines[20:], *lines[:20]], segments=2, flags=["gap"])
    table("no-value.csv", [head, *lines[:9], "0.001125,NaN,70.0", *lines[10:]], frames=FRAMES - 1, segments=2, flags=["gap"])
    table("over.csv", [head, *lines[:9], "0.001125,OL,70.0", *lines[10:]], frames=FRAMES - 1, segments=2, flags=["gap", "clipped"])
    table("junk-inside.csv", [head, *lines[:9], "\x00\x01broken", *lines[10:]], frames=FRAMES - 1, segments=2, flags=["gap"])
    table("trailing.csv", [head, *lines, "end of recording", "checksum 1234"], flags=["cut_short"])
    table("cut-row.csv", [head, *lines, "0.005,8"], flags=["cut_short"])
    table("coarse-times.csv", [head, *rows(time=lambda k: f"{k * 0.000125:.4f}")], rate=None)
    refused("thousands.csv", ["time_s;current_ma;voltage_v", *[r.replace("\t", ";") for r in rows("\t", lambda x: f"{1000 * x:,.1f}")]], "thousands")
    refused("text-for-current.csv", [head + ",state", *rows(more=",ok")], "holds no numbers", 'current = { column = "state" }')
    refused("no-such-column.csv", [head, *rows()], "\"time_s\", \"current_a\", \"voltage_v\"", 'current = { column = "amps" }')
    refused("no-rate.csv", ["current_a,voltage_v", *[r.split(",", 1)[1] for r in rows()]], "rate_hz")
    refused("time-without-unit.csv", ["time,current_a,voltage_v", *rows(time=lambda k: str(k))], "the time has no unit")
    refused("two-currents.csv", ["time_s,left_current_a,right_current_a", *rows()], "more than one column")
    refused("no-current.csv", ["time_s,x,y", *rows()], "no column looks like the current")
    refused("constant-time.csv", [head, *rows(time=lambda k: "1")], "do not rise")
    refused("shuffled-time.csv", [head, *rows(time=lambda k: str(k * 7 % 40))] + [r for _ in range(3) for r in rows(time=lambda k: str(k * 7 % 40))], "jump")
    refused("words.csv", ["This is a note", "and no recording"], "nor a table with rows of numbers")
    refused("mostly-junk.csv", [head, *lines, *["1,x,2" for _ in range(20)], *lines], "is not a number")
    put("empty.csv", b"", logger="", error="empty")
    put("bytes.csv", bytes(range(256)), logger="", error="nor a table with rows of numbers")
    put("packed-broken.csv.gz", zipped("\n".join(lines).encode())[:20] + b"\xff" * 40, logger="", error="")


if __name__ == "__main__":
    waves()
    tables()
    (HERE / "expected.json").write_text(json.dumps(EXPECTED, indent=1, sort_keys=True, ensure_ascii=True) + "\n")
    print(f"{len(EXPECTED)} recordings")
