//! Recordings that cannot be used: each with the whole message that it gets, the way out included.

use std::path::Path;

use tipstrike::job::Logger;
use tipstrike::recording::Recording;

use super::{Said, all_said, lacking, said};

/// What is said of a file opened by a `[logger]`.
pub(super) fn of_recording(path: &Path, logger: &str) -> Said {
    Recording::open(path, &toml::from_str::<Logger>(logger).unwrap()).into()
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
