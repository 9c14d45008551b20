//! Any bytes as a job file, tried on recordings that are known to be good.

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use tipstrike::fit::fit;
use tipstrike::job::{Job, Run};
use tipstrike::recording::Recording;
use tipstrike::report::text;
use tipstrike::report::text::TermStyle;
use tipstrike::score::after;
use tipstrike::start;

use super::{recording, rows, workbench};

/// Refused with the file's name, or a job that measures what it is given.
pub fn job(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    let parsed = |text: &str| Job::parse(text, "fuzz.toml", PathBuf::new());
    match parsed(text) {
        Err(error) => workbench::says_where(&error, &["fuzz.toml"]),
        Ok(job) => {
            let marked =
                parsed(&format!("\u{feff}{text}")).expect("a byte-order mark changes nothing");
            assert_eq!(format!("{marked:?}"), format!("{job:?}"));
            job_holds(job);
        }
    }
}

fn job_holds(mut job: Job) {
    let findings = fit(&job);
    rows::harmless(&text::preps(&job, &findings, TermStyle::plain(80)));
    let prep = job.preps.keys().next().cloned();
    for (name, bytes) in KNOWN.iter() {
        let path = workbench::file(name, bytes);
        let mut run = Run::bare(1, &path);
        run.prep = prep.clone().unwrap_or(run.prep);
        run_holds(&mut job, run, &path);
    }
}

fn run_holds(job: &mut Job, run: Run, path: &Path) {
    let recording = match Recording::open(path, &job.logger) {
        Ok(recording) => recording,
        Err(error) => return workbench::says_where(&error, &["known.", "[logger]"]),
    };
    let starts =
        start::find(&recording, &job.measuring, &job.context_of(&run)).expect("a sound file");
    recording::starts_hold(&starts);
    let found = rows::of_run(job, &run, &starts);
    rows::written_is_read(&found);
    job.runs = vec![run];
    rows::harmless(&text::after(&after(job, &found), TermStyle::plain(80)));
}

const RATE_HZ: u32 = 2000;

/// A WAV file and a table of one start: idle, open, a touch, an arc with a dropout, idle.
static KNOWN: LazyLock<[(&str, Vec<u8>); 2]> = LazyLock::new(|| {
    let frames: Vec<(f64, f64)> = (0..3 * RATE_HZ).map(frame).collect();
    [
        ("known.wav", wav_of(&frames)),
        ("known.csv", table_of(&frames)),
    ]
});

fn frame(k: u32) -> (f64, f64) {
    let ripple = f64::from(k * 7919 % 101) / 101.0 - 0.5;
    let (amps, volts) = match f64::from(k) / f64::from(RATE_HZ) {
        t if t < 0.8 => (0.0, 0.0),
        t if t < 1.0 => (0.0, 70.0),
        t if t < 1.02 => (40.0, 0.5),
        t if (1.4..1.41).contains(&t) => (0.0, 60.0),
        t if t < 2.6 => (80.0, 13.0),
        _ => (0.0, 0.0),
    };
    (amps + 0.2 * ripple, volts + 0.3 * ripple)
}

fn table_of(frames: &[(f64, f64)]) -> Vec<u8> {
    let mut text = String::from("time_s,current_a,voltage_v\n");
    for (k, (amps, volts)) in frames.iter().enumerate() {
        text += &format!("{},{amps},{volts}\n", k as f64 / f64::from(RATE_HZ));
    }
    text.into_bytes()
}

fn wav_of(frames: &[(f64, f64)]) -> Vec<u8> {
    let size = 4 * frames.len() as u32;
    let mut bytes = Vec::from(*b"RIFF");
    bytes.extend((36 + size).to_le_bytes());
    bytes.extend(b"WAVEfmt \x10\0\0\0\x01\0\x02\0");
    bytes.extend(RATE_HZ.to_le_bytes());
    bytes.extend((4 * RATE_HZ).to_le_bytes());
    bytes.extend(b"\x04\0\x10\0data");
    bytes.extend(size.to_le_bytes());
    for (amps, volts) in frames {
        bytes.extend(((amps / 300.0 * 32_768.0) as i16).to_le_bytes());
        bytes.extend(((volts / 120.0 * 32_768.0) as i16).to_le_bytes());
    }
    bytes
}
