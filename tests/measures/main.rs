//! Measures of made starts against closed forms of the current and the voltage that were made.

mod alternating;
mod delays;
mod direct;
mod finding;
mod pictures;

use tipstrike::job::{Context, Measuring};
use tipstrike::recording::Recording;
use tipstrike::start::{Start, find};

const RATE: f64 = 20_000.0;

/// Amps and volts as functions of seconds.
fn recording(seconds: f64, amps: impl Fn(f64) -> f64, volts: impl Fn(f64) -> f64) -> Recording {
    recording_at(RATE, seconds, amps, volts)
}

fn recording_at(
    rate_hz: f64,
    seconds: f64,
    amps: impl Fn(f64) -> f64,
    volts: impl Fn(f64) -> f64,
) -> Recording {
    let at = |f: &dyn Fn(f64) -> f64| {
        let samples = 0..(seconds * rate_hz) as usize;
        samples.map(|k| f(k as f64 / rate_hz)).collect()
    };
    Recording::from_samples("made", rate_hz, at(&amps), at(&volts))
}

fn near(seen: Option<f64>, expected: f64, within: f64) {
    let seen = seen.expect("measured");
    assert!(
        (seen - expected).abs() <= within,
        "{seen} is not {expected} ± {within}"
    );
}

/// The only start of a made recording.
fn only(recording: Recording, context: &Context) -> Start {
    let mut found = find(&recording, &Measuring::default(), context).unwrap();
    assert_eq!(found.len(), 1);
    found.remove(0)
}

/// 80 A from 0.5 s, first order with 2 ms, out at 1.9 s; circuit open from 0.4 s; arc voltage 10 V + 0.02 V/A.
fn plain(t: f64) -> (f64, f64) {
    match t {
        t if (0.5..1.9).contains(&t) => {
            let amps = 80.0 * (1.0 - (-(t - 0.5) / 0.002).exp());
            (amps, 10.0 + 0.02 * amps)
        }
        t if (0.4..0.5).contains(&t) => (0.0, 70.0),
        _ => (0.0, 0.0),
    }
}

/// A steady arc of 80 A and 12 V from 0.5 s to 1.9 s.
fn steady(t: f64) -> (f64, f64) {
    if (0.5..1.9).contains(&t) {
        (80.0, 12.0)
    } else {
        (0.0, 0.0)
    }
}
