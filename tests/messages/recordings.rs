//! Recordings that cannot be used: each with the whole message that it gets, the way out included.

use std::path::Path;

use tipstrike::job::Logger;
use tipstrike::recording::Recording;

use super::{Said, all_said, lacking, said};

/// Forty rows of 1 kHz under a head of four columns: time, two numbers, a word.
fn table(head: &str) -> String {
    let row = |k: usize| format!("{:.3},{},{},on\n", k as f64 / 1e3, k % 7, k % 5);
    format!("{head}\n{}", (0..40).map(row).collect::<String>())
}

/// What is said of a file opened by a `[logger]`.
fn of_recording(path: &Path, logger: &str) -> Said {
    Recording::open(path, &toml::from_str::<Logger>(logger).unwrap()).into()
}

#[test]
fn of_the_columns_of_a_table() {
    let units = "time (s),current (A),voltage (V),note";
    let bare = "time (s),a,b,note";
    let cases = [
        (
            units,
            "rate_hz = 1000\ntime = { column = \"time\", unit = \"s\" }",
            "conflicting-keys",
            "[logger]: both time and rate_hz are given. Keep one",
        ),
        (
            units,
            "current = { column = \"note\" }",
            "unsuitable-channel",
            "column \"note\": it holds no numbers, but [logger] calls it the current. The columns are",
        ),
        (
            units,
            "time = { column = \"note\", unit = \"s\" }",
            "unclear-time",
            "column \"note\": it holds no times. Write a time as a number, or like 13:05:07.250",
        ),
        (
            units,
            "current = { column = \"amp\" }",
            "no-such-channel",
            "has no column \"amp\". The columns are ",
        ),
        (
            units,
            "current = { channel = 9 }",
            "no-such-channel",
            "columns. Columns are counted from 1",
        ),
        (
            units,
            "current = { column = \"note\", channel = 2 }",
            "conflicting-keys",
            "[logger] current: give either column = \"…\" or channel = …",
        ),
        (
            units,
            "voltage = { channel = 2, volts_per_unit = 1 }",
            "unsuitable-channel",
            "[logger]: current and voltage are both column 2. Give each its own",
        ),
        (
            units,
            "mains_hz = -50",
            "invalid-value",
            "[logger]: mains_hz = -50, expected a number above 0",
        ),
        (
            units,
            "mains_hz = 5",
            "invalid-value",
            "[logger]: mains_hz = 5 is not a mains frequency. It is 50 or 60 nearly everywhere",
        ),
        (
            units,
            "high_pass_hz = 5000",
            "invalid-value",
            "high_pass_hz = 5000 is not the corner of an input; expected 0.001 to 1000. tipstrike inspect estimates the corner; leave it out for a DC-coupled input",
        ),
        (
            units,
            "rate_hz = 1e12",
            "sample-rate",
            "[logger] rate_hz: 1e12 samples a second is not the rate of a logger; expected 1e-3 to 1e9. Give the samples a second that the logger takes",
        ),
        (
            units,
            "current = { channel = 2, offset = 1e7 }",
            "invalid-value",
            "[logger] current: offset = 10000000 is not a plausible zero; expected -1000000 to 1000000. Give what the trace shows at rest, in A or V, or \"auto\"",
        ),
        (
            bare,
            "",
            "channel-not-named",
            "no column looks like the current by its title or unit. Name it in [logger]: current = { column = \"…\", amps_per_unit = … }; the columns are ",
        ),
        (
            bare,
            "current = { column = \"a\" }",
            "missing-scale",
            "the table's header names no unit of current. Give amps_per_unit = …, or shunt = { amps = …, millivolts = … }",
        ),
        (
            bare,
            "current = { column = \"a\", amps_per_unit = 1 }\nvoltage = { column = \"b\" }",
            "missing-scale",
            "the table's header names no unit of voltage. Give volts_per_unit = …",
        ),
        (
            units,
            "current = { channel = 3, amps_per_unit = 1 }\nvoltage = { channel = 2 }",
            "wrong-scale",
            "the table's header says amps where volts are expected. Leave shunt, amps_per_volt and divider out, or choose the other column",
        ),
        (
            bare,
            "current = { column = \"a\", shunt = { amps = 200, millivolts = 60 }, amps_per_volt = 1 }",
            "conflicting-keys",
            "[logger] current: both shunt and amps_per_volt are given. Keep one",
        ),
        (
            bare,
            "current = { column = \"a\", amps_per_volt = 1, amps_per_unit = 1 }",
            "conflicting-keys",
            "[logger] current: there are two scales. Keep one",
        ),
        (
            bare,
            "current = { column = \"a\", amps_per_volt = 1, volts_at_full_scale = 5 }",
            "conflicting-keys",
            "a table has no full scale. Give volts_per_unit = …, or name the unit in the header",
        ),
        (
            bare,
            "current = { column = \"a\", amps_per_unit = 0 }",
            "wrong-scale",
            "the scale does not work out to a finite number other than 0. Full scale, shunt, gain and divider must not be 0",
        ),
        (
            bare,
            "current = { column = \"a\", amps_per_unit = 1, tolerance_pct = 200 }",
            "invalid-value",
            "tolerance_pct = 200 is not between 0 and 100",
        ),
        (
            bare,
            "current = { column = \"a\", amps_per_unit = 1e9 }",
            "wrong-scale",
            "past every welding source. Check the scale in [logger], and rows with the logger's number for over the range",
        ),
        (
            "a,current (A),voltage (V),note",
            "",
            "unclear-time",
            "there is no time column. State the rate in [logger]: rate_hz = …",
        ),
        (
            "time,current (A),voltage (V),note",
            "time = { column = \"time\" }",
            "",
            "nothing",
        ),
    ];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rec.csv");
    let wrong = cases.iter().filter_map(|(head, logger, heading, message)| {
        std::fs::write(&path, table(head)).unwrap();
        lacking(logger, &of_recording(&path, logger), heading, message)
    });
    all_said(wrong.collect());
}

/// Four hundred rows under a head that names their units.
fn rows(row: impl Fn(usize) -> String) -> String {
    let head = "time (s),current (A),voltage (V)\n".to_owned();
    (0..400).fold(head, |all, k| all + &row(k) + "\n")
}

#[test]
fn of_the_rows_of_a_table() {
    let at_1_khz =
        |cells: fn(usize) -> &'static str| rows(|k| format!("{:.3},{}", k as f64 / 1e3, cells(k)));
    let cases = [
        (
            String::new(),
            "empty-file",
            "the file is empty. Record again",
        ),
        (
            "a few words\n".to_owned(),
            "not-a-recording",
            "it is neither a WAV file nor a table with rows of numbers. A table has one row per sample, with columns separated by commas, semicolons or tabs",
        ),
        (
            "x".repeat(3 << 20),
            "not-a-recording",
            "this is not text: a line is over a million characters long. WAV files and tables of text are read",
        ),
        (
            rows(|k| format!("{},1,1", k / 40)),
            "unclear-time",
            "its times have a resolution of 1 s, too coarse to tell the rate. State the rate: rate_hz = …",
        ),
        (
            rows(|_| "1,1,1".into()),
            "unclear-time",
            "the times do not rise from row to row. Choose another column with time = { column = \"…\", unit = \"s\" }, or state rate_hz",
        ),
        (
            rows(|k| format!("{},1,1", k * 13_577 % 400)),
            "unclear-time",
            "Is this the right time column? Else state rate_hz",
        ),
        (
            at_1_khz(|_| "\"1,234.5\",1"),
            "thousands-separator",
            "a number with thousands separators can be read in two ways. Export without thousands separators",
        ),
        (
            at_1_khz(|k| if k % 9 == 8 { "off,1" } else { "1,1" }),
            "not-a-number",
            "is not a number (44 lines like this). Choose the columns in [logger], or export numbers only",
        ),
    ];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rec.csv");
    let wrong = cases.iter().filter_map(|(text, heading, message)| {
        std::fs::write(&path, text).unwrap();
        lacking(
            text.lines().next().unwrap_or_default(),
            &of_recording(&path, ""),
            heading,
            message,
        )
    });
    all_said(wrong.collect());
}

#[test]
fn of_a_table_without_one_whole_row() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rec.csv");
    let halves = ["0,1,", "0,,1"];
    std::fs::write(&path, rows(|k| halves[k % 2].to_owned())).unwrap();
    let said = of_recording(&path, "rate_hz = 1000");
    let message = "no row has a value in every column in use. Choose other columns in [logger]";
    all_said(
        lacking("halves", &said, "no-complete-row", message)
            .into_iter()
            .collect(),
    );
}

#[test]
fn of_the_channels_of_a_wav_file() {
    let cases = [
        (
            "",
            "channel-not-named",
            "a WAV file says neither which channel is the current nor its scale. Run tipstrike inspect ",
        ),
        (
            "current = { amps_at_full_scale = 1 }",
            "channel-not-named",
            "is a WAV file and no channel is given. Give channel = 1, 2, …",
        ),
        (
            "current = { channel = 3, amps_at_full_scale = 1 }",
            "no-such-channel",
            "has 2 channels. Channels are counted from 1",
        ),
        (
            "current = { channel = 1, amps_at_full_scale = 1 }\nvoltage = { channel = 1, volts_at_full_scale = 1 }",
            "unsuitable-channel",
            "[logger]: current and voltage are both channel 1. Give each its own",
        ),
        (
            "current = { channel = 1 }",
            "missing-scale",
            "[logger] current: there is no scale. Give amps_at_full_scale = …, or shunt = { amps = …, millivolts = … } with volts_at_full_scale = …",
        ),
        (
            "current = { channel = 1, amps_per_volt = 1 }",
            "missing-scale",
            "[logger] current: there is no scale. Give volts_at_full_scale = …",
        ),
        (
            "current = { channel = 1, amps_per_volt = 1, volts_at_full_scale = 1, volts_per_unit = 1 }",
            "conflicting-keys",
            "volts_per_unit is for tables. Leave it out for a WAV file",
        ),
    ];
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/recordings/i16-2.wav");
    let wrong = cases.iter().filter_map(|(logger, heading, message)| {
        lacking(logger, &of_recording(&file, logger), heading, message)
    });
    all_said(wrong.collect());
}

#[test]
fn of_the_head_of_a_wav_file() {
    let head = |tag: u16, channels: u16, rate: u32, block: u16, bits: u16| {
        let mut bytes = b"RIFF\xff\0\0\0WAVEfmt \x10\0\0\0".to_vec();
        bytes.extend([tag, channels].map(u16::to_le_bytes).concat());
        bytes.extend([rate, 0].map(u32::to_le_bytes).concat());
        bytes.extend([block, bits].map(u16::to_le_bytes).concat());
        bytes.extend(b"data\x08\0\0\0");
        bytes.extend([0; 8]);
        bytes
    };
    let kinds = ". Save it as a WAV file of 8, 16, 24 or 32-bit integers or 32-bit floats, with 1 to 8 channels";
    let cases = [
        (
            head(1, 9, 1000, 18, 16),
            "wav-format",
            format!("it has 9 channels{kinds}"),
        ),
        (
            head(1, 2, 1000, 3, 16),
            "wav-format",
            format!("frames of 3 bytes do not fit 2 channels{kinds}"),
        ),
        (
            head(1, 1, 0, 2, 16),
            "sample-rate",
            format!("the sample rate is 0{kinds}"),
        ),
        (
            head(1, 1, 4_000_000_000, 2, 16),
            "sample-rate",
            format!(
                "4e9 samples a second is not the rate of a logger; expected 1e-3 to 1e9{kinds}"
            ),
        ),
        (
            head(2, 1, 1000, 2, 16),
            "wav-format",
            format!("its encoding (format tag 2) is not supported{kinds}"),
        ),
        (
            head(3, 1, 1000, 8, 64),
            "wav-format",
            format!("bits per sample is not 32{kinds}"),
        ),
        (
            head(1, 1, 1000, 2, 16)[..36].to_vec(),
            "damaged-wav",
            "there is no data chunk. The file may have been cut off: record again".into(),
        ),
        (
            [&head(1, 1, 1000, 2, 16)[..40], &[0; 4]].concat(),
            "damaged-wav",
            "it holds no complete frame of samples. Record again".into(),
        ),
    ];
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("rec.wav");
    let wrong = cases.iter().filter_map(|(bytes, heading, message)| {
        std::fs::write(&path, bytes).unwrap();
        let logger = "current = { channel = 1, amps_at_full_scale = 1 }";
        lacking(
            &format!("{} bytes", bytes.len()),
            &of_recording(&path, logger),
            heading,
            message,
        )
    });
    all_said(wrong.collect());
}

/// 3 s at 200 Hz: a second of rest, then 1 and, from 2 s, 2.
fn steps() -> String {
    let row = |k: usize| format!("{:.3},{}\n", k as f64 / 200.0, k / 200);
    format!("time (s),raw\n{}", (0..600).map(row).collect::<String>())
}

#[test]
fn of_loads_of_known_current() {
    let cases: [(&[&str], &str, &str); 9] = [
        (
            &["80 A"],
            "Values of options",
            "write it as \"80 A from 2 s to 5 s\"",
        ),
        (
            &["80 A from 2 s to 1 s"],
            "Values of options",
            "the second time must come after the first",
        ),
        (
            &["0 A from 0.1 s to 0.9 s"],
            "known-load",
            "--known: 0 A alone gives the zero, not the scale. Give a second load, with current flowing. Repeat --known for each load",
        ),
        (
            &["80 A from 1.1 s to 1.9 s", "90 A from 1.1 s to 1.9 s"],
            "known-load",
            "the two loads do not differ in the trace. Take loads that are well apart; 0 A counts as one",
        ),
        (
            &["80 A from 1 s to 9 s"],
            "known-load",
            "1 s to 9 s does not lie within one unbroken part of the recording",
        ),
        (
            &["80 A from 1 s to 1.01 s"],
            "known-load",
            "the span holds too few samples at 200 Hz. Take a longer one",
        ),
        (
            &[
                "1 A from 0.1 s to 0.2 s",
                "2 A from 1 s to 2 s",
                "3 A from 2 s to 3 s",
            ],
            "known-load",
            "--known: expected one or two loads in one recording",
        ),
        (
            &["80 A from 0.5 s to 1.5 s", "0 A from 0.1 s to 0.4 s"],
            "Findings about a recording",
            "part of it is idle or alternating, so this mean does not stand for 80 A.",
        ),
        (
            &["100 A from 1.1 s to 1.9 s", "200 A from 2.1 s to 2.9 s"],
            "",
            "amps_per_unit = 100",
        ),
    ];
    let rules = "[logger]\ncurrent = { column = \"raw\", amps_per_unit = 1 }\n[prep.A]\n";
    let wrong = cases.iter().filter_map(|(loads, heading, message)| {
        let loads = loads.iter().flat_map(|load| ["--known", load]);
        let args: Vec<&str> = ["inspect", "rec.csv", "--job", "job.toml"]
            .into_iter()
            .chain(loads)
            .collect();
        lacking(
            &args.join(" "),
            &said(&[("rec.csv", &steps()), ("job.toml", rules)], &args),
            heading,
            message,
        )
    });
    all_said(wrong.collect());
}
