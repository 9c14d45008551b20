//! Every tiny recording of tests/recordings, good and broken, gives what expected.json says.

use std::path::{Path, PathBuf};

use rayon::prelude::*;
use serde::Deserialize;
use std::collections::BTreeMap;
use tipstrike::bytes::Bytes;
use tipstrike::job::Logger;
use tipstrike::recording::{Block, Recording};

#[derive(Debug, Deserialize)]
struct Expected {
    #[serde(default)]
    logger: String,
    /// What the error must say.
    error: Option<String>,
    frames: Option<u64>,
    rate_hz: Option<f64>,
    segments: Option<usize>,
    #[serde(default)]
    flags: Vec<String>,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/recordings")
}

fn expected() -> BTreeMap<String, Expected> {
    let text = std::fs::read_to_string(folder().join("expected.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn whole(recording: &mut Recording) -> Block {
    let (mut block, mut all) = (Block::default(), Block::default());
    for segment in recording.segments().to_vec() {
        recording
            .read(segment.first..segment.first + segment.frames, &mut block)
            .unwrap();
        all.amps.extend_from_slice(&block.amps);
        all.volts.extend_from_slice(&block.volts);
    }
    all
}

/// What is wrong with one recording's outcome; nothing where it is as expected.
fn fault(name: &str, expected: &Expected) -> Option<String> {
    let logger: Logger = toml::from_str(&expected.logger).unwrap();
    let opened = Recording::open(&folder().join(name), &logger);
    let mut recording = match (opened, &expected.error) {
        (Err(error), Some(sentence)) if error.to_string().contains(sentence.as_str()) => {
            return None;
        }
        (Err(error), _) => return Some(format!("error: {error}")),
        (Ok(_), Some(_)) => return Some("it was read".into()),
        (Ok(recording), None) => recording,
    };
    let flags: Vec<&str> = recording
        .survey()
        .findings
        .iter()
        .map(|f| f.flag.name())
        .collect();
    let lengths = (
        recording.frames(),
        recording.rate_hz(),
        recording.segments().len(),
    );
    let right = expected.frames.is_none_or(|n| n == lengths.0)
        && expected.rate_hz.is_none_or(|r| r == lengths.1)
        && expected.segments.is_none_or(|s| s == lengths.2)
        && expected.flags.iter().all(|f| flags.contains(&f.as_str()))
        && ["gap", "cut_short", "uneven_time"]
            .iter()
            .all(|f| flags.contains(f) == expected.flags.iter().any(|e| e == f));
    let read = whole(&mut recording).amps.len() as u64;
    (!right || read != lengths.0)
        .then(|| format!("{lengths:?} {flags:?}, {read} read; expected {expected:?}"))
}

#[test]
fn each_gives_its_values_or_its_sentence() {
    let all = expected();
    assert!(all.len() >= 40);
    let faults: Vec<String> = all
        .iter()
        .filter_map(|(name, e)| Some(format!("{name}: {}", fault(name, e)?)))
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// Whether a file is cut here: everywhere in its head and at its end, at every 31st byte between (`TIPSTRIKE_LONG=1`:
/// at every one).
fn is_cut(at: u64, length: u64, long: bool) -> bool {
    long || at < 400 || at + 64 > length || at.is_multiple_of(31)
}

#[test]
fn no_prefix_of_any_panics() {
    let long = crate::long_form::long();
    let all: Vec<(String, Expected)> = expected().into_iter().collect();
    all.par_iter().for_each(|(name, expected)| {
        let logger: Logger = toml::from_str(&expected.logger).unwrap();
        let all = std::fs::read(folder().join(name)).unwrap();
        let length = all.len() as u64;
        for cut in (0..length).filter(|cut| is_cut(*cut, length, long)) {
            let prefix = Bytes::memory(name, &all[..cut as usize]);
            if let Ok(mut recording) = Recording::read_from(&prefix, &logger) {
                whole(&mut recording);
            }
        }
    });
}

/// One recording as another reader has it: a list a trace, integers of a WAV file or numbers of a table.
#[derive(Debug, Deserialize)]
struct Reference {
    full_scale: f64,
    amps: Vec<f64>,
    volts: Vec<f64>,
}

/// SciPy's wavfile and pandas, sample for sample (tests/reference/recordings.py).
#[test]
fn other_readers_have_the_same_samples() {
    let text = include_str!("reference/recordings.json");
    let references: BTreeMap<String, Reference> = serde_json::from_str(text).unwrap();
    assert!(references.len() >= 20);
    let all = expected();
    for (name, reference) in references {
        let logger: Logger = toml::from_str(&all[&name].logger).unwrap();
        let read = whole(&mut Recording::open(&folder().join(&name), &logger).unwrap());
        let scaled = |values: &[f64]| -> Vec<f64> {
            values.iter().map(|v| v / reference.full_scale).collect()
        };
        assert_eq!(read.amps, scaled(&reference.amps), "{name}");
        assert_eq!(read.volts, scaled(&reference.volts), "{name}");
    }
}
