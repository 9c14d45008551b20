//! Rehearsed bias and spread against those of true starts on the same made logger, whose faults the rehearsal knows only by
//! what a short recording of that logger shows.
//!
//! The long form (`TIPSTRIKE_LONG=1`) has 20 loggers, 200 rehearsed and 500 true starts; either prints what it found.

use std::path::PathBuf;

use rayon::prelude::*;

use super::draw;
use super::draw::Chunk;
use super::judge::spread;
use super::pairs::{Pair, paired};
use super::stage::Stage;
use super::*;
use crate::demo::{
    ChannelModel, Disturbance, During, Fault, LoggerModel, Made, Method, Ripple, RippleWave,
    Scenario, Strike, simulate,
};
use crate::long_form::long;
use crate::measuring::gather::{GatherOptions, gather};
use crate::start;

const RATE_HZ: f64 = 10_000.0;
const SEED: u64 = 7;
const FULL_SCALE: [f64; 2] = [200.0, 120.0];

/// Measures that are compared, and the difference that nobody reads: ms, A, V (a tenth of the wander that is good enough).
const COMPARED: [(Measure, f64); 4] = [
    (Measure::DelayMs, 0.15),
    (Measure::StartMs, 0.15),
    (Measure::RunA, 0.08),
    (Measure::WanderV, 0.02),
];

fn logger(amps: ChannelModel, volts: ChannelModel, bits: u32) -> LoggerModel {
    LoggerModel {
        amps: ChannelModel {
            full_scale: FULL_SCALE[0],
            noise: amps.noise.max(0.02),
            ..amps
        },
        volts: ChannelModel {
            full_scale: FULL_SCALE[1],
            noise: volts.noise.max(0.02),
            ..volts
        },
        bits: Some(bits),
    }
}

fn channel(noise: f64, hum: f64, faults: Vec<Fault>) -> ChannelModel {
    ChannelModel {
        noise,
        hum,
        faults,
        ..ChannelModel::default()
    }
}

/// Loggers from clean to awful, for starts of 80 A, each with the ripple of its machine.
fn loggers() -> Vec<(&'static str, LoggerModel, Option<Ripple>)> {
    let quiet = ChannelModel::default;
    let pick_up = |peak, hz, rectified, during| {
        vec![Fault::PickUp {
            peak,
            hz,
            rectified,
            during,
        }]
    };
    let swing = |peak| {
        vec![Fault::Swing {
            peak,
            period_s: 5.0,
        }]
    };
    let noisy = |noise| channel(noise, 0.0, Vec::new());
    let humming = |hum| channel(0.05, hum, Vec::new());
    let faulty = |faults| channel(0.05, 0.0, faults);
    let sparks = ChannelModel {
        hf_noise: 40.0,
        ..quiet()
    };
    let walking = |drift_per_s| ChannelModel {
        offset: 1.0,
        drift_per_s,
        ..quiet()
    };
    let ripple = |share, hz, wave| Some(Ripple { share, hz, wave });
    let awful = channel(1.0, 1.0, swing(1.0));
    vec![
        ("clean", logger(quiet(), quiet(), 16), None),
        ("noise 0.2 A", logger(noisy(0.2), noisy(0.1), 16), None),
        ("noise 0.8 A", logger(noisy(0.8), noisy(0.2), 16), None),
        ("noise 1.6 A", logger(noisy(1.6), noisy(0.4), 16), None),
        ("hum 0.5 A", logger(humming(0.5), humming(0.1), 16), None),
        ("hum 2 A", logger(humming(2.0), humming(0.3), 16), None),
        ("hum 4 A", logger(humming(4.0), humming(0.5), 16), None),
        ("drift 0.05 A/s", logger(walking(0.05), quiet(), 16), None),
        ("swing 0.5 A", logger(faulty(swing(0.5)), quiet(), 16), None),
        ("swing 2 A", logger(faulty(swing(2.0)), quiet(), 16), None),
        ("sparks", logger(sparks.clone(), sparks, 16), None),
        (
            "pick-up open",
            logger(faulty(pick_up(2.0, 97.0, false, During::Open)), quiet(), 16),
            None,
        ),
        (
            "pick-up on",
            logger(faulty(pick_up(1.0, 150.0, false, During::On)), quiet(), 16),
            None,
        ),
        ("12 bits", logger(quiet(), quiet(), 12), None),
        ("10 bits", logger(noisy(0.1), noisy(0.1), 10), None),
        ("8 bits", logger(noisy(0.5), noisy(0.5), 8), None),
        (
            "ripple 10 %",
            logger(quiet(), quiet(), 16),
            ripple(0.1, 300.0, RippleWave::Sine),
        ),
        (
            "ripple 20 %",
            logger(quiet(), quiet(), 16),
            ripple(0.2, 120.0, RippleWave::Saw),
        ),
        (
            "noise and hum",
            logger(
                channel(0.6, 1.0, Vec::new()),
                channel(0.2, 0.2, Vec::new()),
                12,
            ),
            None,
        ),
        (
            "awful",
            logger(awful, channel(0.4, 0.3, Vec::new()), 10),
            None,
        ),
    ]
}

/// A job of one recording of eight starts by this logger.
fn recorded(logger: &LoggerModel, ripple: Option<Ripple>) -> (tempfile::TempDir, PathBuf) {
    let strike = |k: usize| {
        let mut strike = Strike {
            rest_s: 0.6 + 0.05 * k as f64,
            method: Method::Hf {
                delay_s: 0.03 + 0.02 * k as f64,
            },
            ..Strike::default()
        };
        strike.program.ripple = ripple;
        if k == 3 {
            strike.dropouts = vec![Disturbance {
                at_s: 0.5,
                lasts_s: 0.01,
            }];
        }
        strike
    };
    let made = simulate(&Scenario {
        seed: 4711,
        rate_hz: RATE_HZ,
        strikes: (0..8).map(strike).collect(),
        tail_s: 0.6,
        logger: logger.clone(),
        ..Scenario::default()
    });
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().to_path_buf();
    let [amps, volts] = FULL_SCALE;
    let bytes = crate::demo::shop::wav(RATE_HZ, [(&made.amps, amps), (&made.volts, volts)]);
    std::fs::write(path.join("a.wav"), bytes).unwrap();
    let job = format!(
        "[logger]\nmains_hz = 60\ncurrent = {{ channel = 1, amps_at_full_scale = {amps:?} }}\nvoltage = {{ channel = 2, volts_at_full_scale = {volts:?} }}\n[prep.A]\nclass = \"WLa20\"\n"
    );
    std::fs::write(path.join("job.toml"), job).unwrap();
    std::fs::write(path.join("runs.csv"), "file,prep,process\na.wav,A,dc\n").unwrap();
    (folder, path)
}

/// True starts like the rehearsed ones, by the logger itself.
fn truly(
    stage: &Stage<'_>,
    logger: &LoggerModel,
    ripple: Option<Ripple>,
    rounds: u64,
) -> Vec<Pair> {
    // A few starts are compared as the same starts, so that one odd start of many kinds does not decide; many are drawn anew.
    let seed = if long() { 99 } else { SEED };
    let of = |number: u64| {
        let (clean, special) = draw::scenario(&stage.setup, seed, number);
        let mut scenario = clean.clone();
        scenario.logger = logger.clone();
        for strike in &mut scenario.strikes {
            strike.program.ripple = ripple;
        }
        let made = simulate(&scenario);
        let chunk = Chunk {
            // The truth is that of the clean starts, as in the rehearsal.
            made: Made {
                truth: simulate(&clean).truth,
                ..made
            },
            special,
            seed: 0,
        };
        let laid = stage.recordings[0].alike(&chunk.made.amps, &chunk.made.volts, Some(60.0));
        let starts = start::find(&laid.unwrap(), &stage.measuring, &stage.context).unwrap();
        paired(&chunk, starts).pairs
    };
    (0..rounds).into_par_iter().flat_map(of).collect()
}

/// What is rehearsed and what is true of one measure, in words, and whether they agree within 20 % and chance.
fn agree(rehearsed: &[Pair], true_ones: &[Pair], measure: Measure, floor: f64) -> (bool, String) {
    let (a, b) = match (
        spread(rehearsed, measure, 0.95),
        spread(true_ones, measure, 0.95),
    ) {
        (Some(a), Some(b)) => (a, b),
        // What cannot be measured on the logger cannot be rehearsed on it either.
        (a, b) => {
            return (
                a.is_none() == b.is_none(),
                format!("{measure}: {a:?}, {b:?}"),
            );
        }
    };
    let (n, m) = (a.n as f64, b.n as f64);
    let chance = 2.5 * b.sd * (1.0 / n + 1.0 / m).sqrt();
    let bias = (a.bias - b.bias).abs() <= 0.2 * b.sd + chance + floor;
    let of_sd = 0.2 + 2.5 * (0.5 / n + 0.5 / m).sqrt();
    let sd = (a.sd - b.sd).abs() <= of_sd * b.sd + floor;
    let words = format!(
        "{measure}: rehearsed {:.4} ± {:.4} ({n}), true {:.4} ± {:.4} ({m})",
        a.bias, a.sd, b.bias, b.sd
    );
    (bias && sd, words)
}

#[test]
fn rehearsed_bias_and_spread_are_those_of_true_starts_on_the_same_logger() {
    let (rehearsed, true_ones, every) = match long() {
        true => (20, 50, (0, 1)),
        false => (2, 2, (5, 7)),
    };
    let mut wrong = Vec::new();
    for (name, logger, ripple) in loggers().into_iter().skip(every.0).step_by(every.1) {
        let (_folder, path) = recorded(&logger, ripple);
        let set = gather(&[path], &GatherOptions::default()).unwrap();
        let stage = Stage::set(&set, &RehearseOptions::default()).unwrap();
        let round = |number| {
            let chunk = draw::chunk(&stage.setup, SEED, number);
            stage.play(&chunk, &[]).unwrap().pairs
        };
        let ours: Vec<Pair> = (0..rehearsed).into_par_iter().flat_map(round).collect();
        let theirs = truly(&stage, &logger, ripple, true_ones);
        for (measure, floor) in COMPARED {
            let (agrees, words) = agree(&ours, &theirs, measure, floor);
            println!("{name}: {words}");
            if !agrees {
                wrong.push(format!("{name}: {words}"));
            }
        }
        let found = |pairs: &[Pair]| pairs.iter().filter(|p| p.compares() && p.found()).count();
        let doubted = |pairs: &[Pair]| pairs.iter().filter(|p| p.doubtful()).count();
        println!(
            "{name}: found {} of {}, {} of {}; doubtful {}, {}",
            found(&ours),
            ours.len(),
            found(&theirs),
            theirs.len(),
            doubted(&ours),
            doubted(&theirs)
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
