//! Onset and interruption on open recordings with independent time marks (tests/data/records/README.md).

use std::path::{Path, PathBuf};

use tipstrike::job::{Context, Logger, Measuring};
use tipstrike::recording::{Block, Recording};
use tipstrike::start::find;

fn record(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data/records")
        .join(name)
}

/// The current alone: the voltage of a power line is no arc's.
fn current(name: &str) -> Recording {
    let file = Recording::open(&record(name), &Logger::default()).unwrap();
    let mut block = Block::default();
    file.read(0..file.frames(), &mut block).unwrap();
    Recording::from_samples(name, file.rate_hz(), block.amps, Vec::new())
}

/// Source: pnnl/oedisi_transients, f1 (BSD-2-Clause), simulated by its authors: first sample over 1 A at 0.15237 s, on a
/// record that begins at 0.12 s.
#[test]
fn the_onset_of_a_fault_current_is_found_to_the_sample() {
    let recording = current("fault_onset.csv");
    let measuring = Measuring {
        conduct_a: Some(1.0),
        ..Measuring::default()
    };
    let found = find(&recording, &measuring, &Context::default()).unwrap();
    assert_eq!(found.len(), 1);
    let first = found[0].instants.t_first_s.unwrap() + 0.12;
    assert!((first - 0.15237).abs() <= 1.5e-5, "{first}");
}

/// Source: gabrieldelaparra/ComtradeHandler, Comtrade1 (MIT), recorded: the current goes near 0.98 s, the breaker's contact opens
/// between 0.9833 and 1.0000 s, on a record that begins at 0.5 s. The current before is no start of the record.
#[test]
fn a_current_that_flowed_from_the_first_sample_is_no_start() {
    let recording = current("transformer_off.csv");
    let measuring = Measuring {
        conduct_a: Some(10.0),
        ..Measuring::default()
    };
    assert!(
        find(&recording, &measuring, &Context::default())
            .unwrap()
            .is_empty()
    );
}

/// The same record behind a second of quiet: what flows is a start then, alternating at 60 Hz, out when the breaker opens.
#[test]
fn a_transformer_switched_off_is_out_when_its_breaker_opens() {
    let file = current("transformer_off.csv");
    let rate_hz = file.rate_hz();
    let mut block = Block::default();
    file.read(0..file.frames(), &mut block).unwrap();
    let quiet = rate_hz.round() as usize;
    let mut amps = vec![0.0; quiet];
    amps.extend(block.amps);
    let recording = Recording::from_samples("quiet first", rate_hz, amps, Vec::new());
    let measuring = Measuring {
        conduct_a: Some(10.0),
        ..Measuring::default()
    };
    let found = find(&recording, &measuring, &Context::default()).unwrap();
    assert_eq!(found.len(), 1);
    let out = found[0].instants.t_out_s.unwrap() - quiet as f64 / rate_hz + 0.5;
    assert!((0.97..=1.0).contains(&out), "{out}");
    let ac_hz = found[0].measures.ac_hz.unwrap();
    assert!((ac_hz - 60.0).abs() < 0.2, "{ac_hz}");
}
