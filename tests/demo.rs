//! `samples/` is what `tipstrike demo` writes, byte for byte.

use std::path::Path;
use std::sync::LazyLock;

use serde_json::Value;
use tipstrike::demo::shop;
use tipstrike::demo::shop::DemoFile;
use tipstrike::job::{Context, Job};
use tipstrike::recording::Recording;
use tipstrike::start::{Start, find};

/// All that `tipstrike demo` writes, made once: it takes seconds.
pub static DEMO: LazyLock<Vec<DemoFile>> = LazyLock::new(shop::everything);

/// The part of it that `samples/` keeps.
fn samples() -> impl Iterator<Item = &'static DemoFile> {
    DEMO.iter().filter(|file| !file.path.starts_with("bench/"))
}

#[test]
fn the_samples_are_what_the_demo_writes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for file in samples() {
        let path = folder.join(&file.path);
        let kept = std::fs::read(&path)
            .unwrap_or_else(|e| panic!("{}: {e}; `tipstrike demo` makes it", file.path));
        assert!(
            kept == file.bytes,
            "{} differs from what `tipstrike demo` writes",
            file.path
        );
    }
}

#[test]
fn the_samples_stay_small() {
    let bytes: usize = samples().map(|f| f.bytes.len()).sum();
    assert!(bytes < 3_000_000, "{bytes}");
}

/// Every start of a sample job with its truth, in order.
fn found_and_true(folder: &str) -> Vec<(Start, Value)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let job = Job::read(&folder).expect("the sample job is right");
    let text = std::fs::read_to_string(folder.join("truth.json")).expect("it is kept");
    let truth: Value = serde_json::from_str(&text).expect("it is JSON");
    let mut pairs = Vec::new();
    for (run, told) in job.runs.iter().zip(truth["recordings"].as_array().unwrap()) {
        assert_eq!(told["file"], run.file.as_str());
        let recording = Recording::open(&run.path, &job.logger).expect("it can be read");
        let context = Context {
            mains_hz: Some(60.0),
            ..Context::default()
        };
        let starts = find(&recording, &job.measuring, &context).expect("it can be read");
        let told = told["starts"].as_array().unwrap();
        assert_eq!(starts.len(), told.len(), "{}", run.file);
        pairs.extend(starts.into_iter().zip(told.iter().cloned()));
    }
    pairs
}

/// Found and true instants within 0.2 ms, counts exact, wander within a share: this project's own tolerances.
fn agrees(start: &Start, truth: &Value, wander: f64) {
    let near = |name: &str, got: Option<f64>, tolerance: f64| {
        let truth = truth[name].as_f64().expect("it is told");
        let got = got.expect("it is measured");
        assert!(
            (got - truth).abs() <= tolerance,
            "{name}: {got}, not {truth}"
        );
    };
    near("t_first_s", start.instants.t_first_s, 0.2e-3);
    near("t_lit_s", start.instants.t_lit_s, 0.2e-3);
    near("attempts", start.measures.attempts, 0.0);
    near("dropouts", start.measures.dropouts, 0.0);
    let put = truth["wander_v"].as_f64().expect("it is told");
    near("wander_v", start.measures.wander_v, wander * put);
}

#[test]
fn every_start_of_the_lids_is_found_where_it_truly_is() {
    let pairs = found_and_true("samples");
    assert_eq!(pairs.len(), 40);
    for (start, truth) in &pairs {
        agrees(start, truth, 0.1);
    }
}

#[test]
fn the_skiffs_show_their_balance_and_their_missed_half_cycles() {
    let pairs = found_and_true("samples/skiffs");
    assert_eq!(pairs.len(), 2);
    for (start, truth) in &pairs {
        agrees(start, truth, 0.2);
        let share = start.measures.en_share_pct.expect("it is measured");
        assert!((share - truth["en_share_pct"].as_f64().unwrap()).abs() < 0.5);
        assert_eq!(
            start.measures.missed_halfcycles,
            truth["missed_halfcycles"].as_f64()
        );
    }
}
