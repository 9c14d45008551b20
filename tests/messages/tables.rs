//! Tables that cannot be used: each with the whole message that it gets, the way out included.

use super::recordings::of_recording;
use super::{all_said, lacking};

/// Forty rows of 1 kHz under a head of four columns: time, two numbers, a word.
fn table(head: &str) -> String {
    let row = |k: usize| format!("{:.3},{},{},on\n", k as f64 / 1e3, k % 7, k % 5);
    format!("{head}\n{}", (0..40).map(row).collect::<String>())
}

/// The first line of a table whose columns name their units, and of one that does not.
const UNITS: &str = "time (s),current (A),voltage (V),note";
const BARE: &str = "time (s),a,b,note";

#[test]
fn of_the_columns_of_a_table() {
    let cases = [
        (
            UNITS,
            "rate_hz = 1000\ntime = { column = \"time\", unit = \"s\" }",
            "conflicting-keys",
            "[logger]: both time and rate_hz are given. Keep one",
        ),
        (
            UNITS,
            "current = { column = \"note\" }",
            "unsuitable-channel",
            "column \"note\": it holds no numbers, but [logger] calls it the current. The columns are",
        ),
        (
            UNITS,
            "time = { column = \"note\", unit = \"s\" }",
            "unclear-time",
            "column \"note\": it holds no times. Write a time as a number, or like 13:05:07.250",
        ),
        (
            UNITS,
            "current = { column = \"amp\" }",
            "no-such-channel",
            "has no column \"amp\". The columns are ",
        ),
        (
            UNITS,
            "current = { channel = 9 }",
            "no-such-channel",
            "columns. Columns are counted from 1",
        ),
        (
            UNITS,
            "current = { column = \"note\", channel = 2 }",
            "conflicting-keys",
            "[logger] current: give either column = \"…\" or channel = …",
        ),
        (
            UNITS,
            "voltage = { channel = 2, volts_per_unit = 1 }",
            "unsuitable-channel",
            "[logger]: current and voltage are both column 2. Give each its own",
        ),
        (
            UNITS,
            "mains_hz = -50",
            "invalid-value",
            "[logger]: mains_hz = -50, expected a number above 0",
        ),
        (
            UNITS,
            "mains_hz = 5",
            "invalid-value",
            "[logger]: mains_hz = 5 is not a mains frequency. It is 50 or 60 nearly everywhere",
        ),
        (
            UNITS,
            "high_pass_hz = 5000",
            "invalid-value",
            "high_pass_hz = 5000 is not the corner of an input; expected 0.001 to 1000. tipstrike inspect estimates the corner; leave it out for a DC-coupled input",
        ),
        (
            UNITS,
            "rate_hz = 1e12",
            "sample-rate",
            "[logger] rate_hz: 1e12 samples a second is not the rate of a logger; expected 1e-3 to 1e9. Give the samples a second that the logger takes",
        ),
        (
            UNITS,
            "current = { channel = 2, offset = 1e7 }",
            "invalid-value",
            "[logger] current: offset = 10000000 is not a plausible zero; expected -1000000 to 1000000. Give what the trace shows at rest, in A or V, or \"auto\"",
        ),
    ];
    columns_said(&cases);
}

#[test]
fn of_the_scales_of_a_table() {
    let cases = [
        (
            BARE,
            "",
            "channel-not-named",
            "no column looks like the current by its title or unit. Name it in [logger]: current = { column = \"…\", amps_per_unit = … }; the columns are ",
        ),
        (
            BARE,
            "current = { column = \"a\" }",
            "missing-scale",
            "the table's header names no unit of current. Give amps_per_unit = …, or shunt = { amps = …, millivolts = … }",
        ),
        (
            BARE,
            "current = { column = \"a\", amps_per_unit = 1 }\nvoltage = { column = \"b\" }",
            "missing-scale",
            "the table's header names no unit of voltage. Give volts_per_unit = …",
        ),
        (
            UNITS,
            "current = { channel = 3, amps_per_unit = 1 }\nvoltage = { channel = 2 }",
            "wrong-scale",
            "the table's header says amps where volts are expected. Leave shunt, amps_per_volt and divider out, or choose the other column",
        ),
        (
            BARE,
            "current = { column = \"a\", shunt = { amps = 200, millivolts = 60 }, amps_per_volt = 1 }",
            "conflicting-keys",
            "[logger] current: both shunt and amps_per_volt are given. Keep one",
        ),
        (
            BARE,
            "current = { column = \"a\", amps_per_volt = 1, amps_per_unit = 1 }",
            "conflicting-keys",
            "[logger] current: there are two scales. Keep one",
        ),
        (
            BARE,
            "current = { column = \"a\", amps_per_volt = 1, volts_at_full_scale = 5 }",
            "conflicting-keys",
            "a table has no full scale. Give volts_per_unit = …, or name the unit in the header",
        ),
        (
            BARE,
            "current = { column = \"a\", amps_per_unit = 0 }",
            "wrong-scale",
            "the scale does not work out to a finite number other than 0. Full scale, shunt, gain and divider must not be 0",
        ),
        (
            BARE,
            "current = { column = \"a\", amps_per_unit = 1, tolerance_pct = 200 }",
            "invalid-value",
            "tolerance_pct = 200 is not between 0 and 100",
        ),
        (
            BARE,
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
    columns_said(&cases);
}

/// Tables of these heads, read as this `[logger]` says.
fn columns_said(cases: &[(&str, &str, &str, &str)]) {
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
