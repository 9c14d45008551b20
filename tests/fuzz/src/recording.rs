//! A file as a recording: refused with its name, or sound in every sample and start.

use std::path::Path;

use tipstrike::job::{Context, Logger, Measuring};
use tipstrike::measure::{Measure, Measures};
use tipstrike::recording::{Block, Recording, inspect};
use tipstrike::start;
use tipstrike::start::{Instants, Start};

use super::{rows, workbench};

/// Wirings of a WAV file: current and voltage, current with a trigger, an AC-coupled logger.
const WAV_WIRINGS: [&str; 3] = [
    r#"{"current":{"channel":1,"amps_at_full_scale":300},"voltage":{"channel":2,"volts_at_full_scale":120}}"#,
    r#"{"current":{"channel":1,"amps_at_full_scale":-200,"offset":0.5},"trigger":{"channel":1,"level":0.1}}"#,
    r#"{"current":{"channel":2,"amps_at_full_scale":1e5},"high_pass_hz":3,"mains_hz":60}"#,
];
/// Wirings of a table: what its titles say, the first two columns at a stated rate, a time column with its unit.
const TABLE_WIRINGS: [&str; 3] = [
    "{}",
    r#"{"rate_hz":2000,"current":{"channel":1,"amps_per_unit":1},"voltage":{"channel":2,"volts_per_unit":1}}"#,
    r#"{"time":{"channel":1,"unit":"ms"},"current":{"channel":2,"amps_per_unit":-2},"trigger":{"channel":2}}"#,
];

/// Any bytes as a WAV file (or as what they are taken for).
pub fn wav(bytes: &[u8]) {
    file_holds(&workbench::file("fuzz.wav", bytes), &WAV_WIRINGS);
}

/// Any bytes as a table (or as what they are taken for).
pub fn table(bytes: &[u8]) {
    file_holds(&workbench::file("fuzz.csv", bytes), &TABLE_WIRINGS);
}

fn file_holds(path: &Path, wirings: &[&str]) {
    for wiring in wirings {
        let logger: Logger = serde_json::from_str(wiring).expect("a [logger]");
        match Recording::open(path, &logger) {
            Ok(recording) => drop(recording_holds(&recording)),
            Err(error) => workbench::says_where(&error, &["fuzz.", "[logger]"]),
        }
        match inspect(path, &logger) {
            Ok(seen) => drop(serde_json::to_string(&seen).expect("JSON")),
            Err(error) => workbench::says_where(&error, &["fuzz.", "[logger]"]),
        }
    }
}

/// Frames in order, samples inside their cells and the same however they are read, starts that hold; gives the starts.
pub fn recording_holds(recording: &Recording) -> Vec<Start> {
    let rate_hz = recording.rate_hz();
    assert!(rate_hz.is_finite() && rate_hz > 0.0, "{rate_hz} Hz");
    segments_hold(recording);
    samples_hold(recording);
    let measuring = Measuring::default();
    let starts = start::find(recording, &measuring, &Context::default()).expect("a sound file");
    starts_hold(&starts);
    start::skew(recording, &measuring, &starts).expect("a sound file");
    starts
}

fn segments_hold(recording: &Recording) {
    let (mut next, mut end_s) = (0, f64::NEG_INFINITY);
    for segment in recording.segments() {
        assert_eq!(segment.first, next, "frames are numbered through");
        assert!(segment.frames > 0 && segment.from_s.is_finite());
        // Half a step either way is jitter.
        let gap_s = segment.from_s - end_s;
        assert!(
            gap_s * recording.rate_hz() > -0.5,
            "{gap_s} s between segments"
        );
        next += segment.frames;
        end_s = recording.time_s(next - 1);
    }
    assert_eq!(recording.frames(), next);
    let covered: u64 = recording
        .survey()
        .cells
        .iter()
        .map(|c| u64::from(c.frames))
        .sum();
    assert_eq!(covered, next, "the cells hold every frame");
}

/// A stretch is read in pieces of so many frames, besides whole.
const PIECE: usize = 1000;

fn samples_hold(recording: &Recording) {
    let (mut whole, mut piece) = (Block::default(), Block::default());
    let mut cells = recording.survey().cells.iter();
    for segment in recording.segments() {
        let end = segment.first + segment.frames;
        recording
            .read(segment.first..end, &mut whole)
            .expect("a sound file");
        for first in (segment.first..end).step_by(PIECE) {
            let to = end.min(first + PIECE as u64);
            recording.read(first..to, &mut piece).expect("a sound file");
            let part = (first - segment.first) as usize..(to - segment.first) as usize;
            assert_eq!(piece.amps, whole.amps[part.clone()], "amps in pieces");
            assert_eq!(
                piece.volts,
                whole.volts.get(part).unwrap_or(&[]),
                "volts in pieces"
            );
        }
        let mut at = 0;
        while at < whole.amps.len() {
            let cell = cells.next().expect("a cell for every frame");
            let part = at..at + cell.frames as usize;
            inside(&whole.amps[part.clone()], cell.amps);
            inside(whole.volts.get(part.clone()).unwrap_or(&[]), cell.volts);
            at = part.end;
        }
    }
}

fn inside(values: &[f64], [low, high, _]: [f32; 3]) {
    for &x in values {
        assert!(x.is_finite(), "a sample that is not a number");
        assert!(
            f64::from(low) <= x && x <= f64::from(high),
            "{x} outside of {low} to {high}"
        );
    }
}

/// Starts in order of time, none inside another, each sound by itself and in a table.
pub fn starts_hold(starts: &[Start]) {
    for start in starts {
        instants_hold(&start.instants);
        measures_hold(&start.measures);
        assert!(start.flags.is_sorted_by(|a, b| a < b), "{:?}", start.flags);
    }
    for pair in starts.windows(2) {
        let [before, after] = [pair[0].instants, pair[1].instants];
        assert!(begin(&before) < begin(&after), "{before:?} {after:?}");
        assert!(before.t_out_s <= begin(&after), "{before:?} {after:?}");
    }
    rows::written_is_read(&rows::of(starts));
}

fn begin(instants: &Instants) -> Option<f64> {
    instants.t_open_s.or(instants.t_first_s)
}

fn instants_hold(i: &Instants) {
    assert!(begin(i).is_some(), "{i:?}");
    let known: Vec<f64> = [i.t_open_s, i.t_first_s, i.t_lit_s, i.t_settled_s, i.t_out_s]
        .into_iter()
        .flatten()
        .collect();
    assert!(
        known.iter().all(|t| t.is_finite()) && known.is_sorted(),
        "{i:?}"
    );
}

/// Measures that are never under 0 besides the counts.
const NEVER_UNDER_0: [&str; 18] = [
    "delay_ms",
    "stutter_ms",
    "settle_ms",
    "start_ms",
    "rise_ms",
    "lit_a",
    "run_a",
    "run_v",
    "dropout_ms",
    "dropout_longest_ms",
    "wander_v",
    "wander_hz",
    "wander_a",
    "hum_v",
    "charge_c",
    "ac_hz",
    "pulse_hz",
    "rest_s",
];

fn measures_hold(measures: &Measures) {
    for info in Measure::ALL {
        let Some(value) = measures.get(*info) else {
            continue;
        };
        assert!(value.is_finite(), "{} = {value}", info.name());
        let count = info.kind() == tipstrike::measure::Kind::Count;
        assert!(!count || value.fract() == 0.0, "{} = {value}", info.name());
        let positive =
            count || info.name().starts_with("u_") || NEVER_UNDER_0.contains(&info.name());
        assert!(!positive || value >= 0.0, "{} = {value}", info.name());
    }
    let share = measures.en_share_pct.unwrap_or(50.0);
    assert!((0.0..=100.0).contains(&share), "en_share_pct = {share}");
}
