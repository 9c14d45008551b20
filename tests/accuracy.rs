//! Starts of every kind, made with known truth, against what the tool finds (docs/accuracy.md).
//!
//! `TIPSTRIKE_KIND` keeps to one kind. The truth comes from the simulation's own fine traces by the definitions of docs/measures.md, on its own code
//! (src/demo/truth.rs). Tolerances are this project's own; no standard gives any for arc starts.

#[path = "accuracy/classes.rs"]
mod classes;
#[path = "accuracy/judge.rs"]
mod judge;
#[path = "accuracy/live.rs"]
mod live;
mod long_form;

use std::collections::BTreeMap;
use std::fmt::Write;

use rayon::prelude::*;
use tipstrike::demo::{
    Chance, ChannelModel, Kind, LoggerModel, Made, Scenario, TruthStart, simulate,
};
use tipstrike::job::{Context, Measuring};
use tipstrike::recording::Recording;
use tipstrike::start::skew;
use tipstrike::start::{Skew, Start, find};

/// Starts of each kind: a third of them by default, all of them with `TIPSTRIKE_LONG=1`.
fn per_kind() -> usize {
    match crate::long_form::long() {
        true => 48,
        false => 16,
    }
}
const RATES_HZ: [f64; 6] = [5e3, 10e3, 20e3, 50e3, 100e3, 200e3];
const MAINS_HZ: f64 = 50.0;
const SEED: u64 = 20_26;

/// Percent of the starts that must lie inside the tolerance.
const SHARES: [(&str, f64); 16] = [
    ("no skew told", 100.0),
    ("starts found", 100.0),
    ("lit", 100.0),
    ("attempts", 100.0),
    ("dropouts", 100.0),
    ("touches", 100.0),
    ("missed_halfcycles", 100.0),
    ("t_open_s", 99.0),
    ("t_first_s", 99.0),
    ("t_lit_s", 99.0),
    ("settle", 99.0),
    ("run_a", 99.0),
    ("ac_hz", 100.0),
    ("en_share_pct", 99.0),
    ("wander_v, DC", 99.0),
    ("wander_v, AC and pulse", 99.0),
];

/// One made start, and what was found in its recording.
struct Case {
    name: String,
    rate_hz: f64,
    /// Logger's noise of the voltage, V rms.
    noise_v: f64,
    truth: TruthStart,
    found: Vec<Start>,
    /// Both traces are made at the same instants: there is none to be told.
    skew: Option<Skew>,
}

/// How many of a comparison lay inside the tolerance, and those that did not.
#[derive(Default)]
struct Tally {
    compared: usize,
    misses: Vec<String>,
    /// Largest deviation over its tolerance.
    worst: f64,
}

impl Case {
    /// White noise of the logger in the wander band, V rms: 2 to 200 Hz of the samples on DC; on AC a third of the
    /// bandwidth of the mean of the middle 60 % of each half-cycle.
    fn noise_in_band(&self) -> f64 {
        let density = 2.0 * self.noise_v.powi(2) / self.rate_hz;
        let wide = self.truth.ac_hz.map_or(198.0, |hz| hz / 3.0 / 0.6);
        (density * wide).sqrt()
    }
}

fn case(kind: Kind, number: usize) -> Case {
    let stream = kind as u64 * 1000 + number as u64;
    let mut chance = Chance::new(SEED, stream);
    let rate_hz = RATES_HZ[number % RATES_HZ.len()];
    let noise_pct = chance.log_between(0.05, 1.0);
    let mut strike = kind.strike(&mut chance, rate_hz, MAINS_HZ);
    let voltage = number % 8 != 7;
    if !voltage {
        // Without an open circuit to be seen, tries 150 ms apart are starts of their own.
        strike
            .tries
            .iter_mut()
            .for_each(|t| t.pause_s = t.pause_s.min(0.12));
    }
    let peak = strike
        .program
        .envelope
        .iter()
        .map(|k| k.factor)
        .fold(1.0, f64::max)
        * strike.program.amps;
    let full_scale_a = chance.between(1.5, 2.0) * peak.max(10.0);
    let scenario = Scenario {
        seed: stream,
        rate_hz,
        mains_hz: MAINS_HZ,
        strikes: vec![strike],
        tail_s: 0.3,
        logger: logger(full_scale_a, noise_pct),
        voltage,
    };
    let made = simulate(&scenario);
    let truth = made.truth[0].clone();
    let noise_v = scenario.logger.volts.noise;
    let name = format!(
        "{} {number} ({rate_hz} Hz, noise {noise_pct:.2} %, AC {:.0?} Hz, pulse {:.1?} Hz)",
        kind.name(),
        truth.ac_hz,
        truth.pulse_hz
    );
    let (found, skew) = found(made);
    Case {
        name,
        rate_hz,
        noise_v,
        truth,
        found,
        skew,
    }
}

fn logger(full_scale_a: f64, noise_pct: f64) -> LoggerModel {
    let decent = LoggerModel::decent(full_scale_a, 120.0, noise_pct);
    LoggerModel {
        // Offset is a matter of the recording's zero; wander has its own noise bound.
        amps: ChannelModel {
            offset: 0.0,
            ..decent.amps
        },
        volts: ChannelModel {
            offset: 0.0,
            ..decent.volts
        },
        bits: decent.bits,
    }
}

fn found(made: Made) -> (Vec<Start>, Option<Skew>) {
    let recording = Recording::from_samples("made", made.rate_hz, made.amps, made.volts);
    let context = Context {
        mains_hz: Some(MAINS_HZ),
        ..Context::default()
    };
    let measuring = Measuring::default();
    let starts = find(&recording, &measuring, &context).expect("memory can be read");
    let skew = skew(&recording, &measuring, &starts).expect("memory can be read");
    (starts, skew)
}

/// Rows of the table, by name.
#[derive(Default)]
struct Table(BTreeMap<&'static str, Tally>);

impl Table {
    fn near(
        &mut self,
        row: &'static str,
        case: &Case,
        truth: Option<f64>,
        got: Option<f64>,
        tolerance: f64,
    ) {
        let Some(truth) = truth else { return };
        let off = got.map_or(f64::INFINITY, |got| (got - truth).abs() / tolerance);
        self.add(row, case, off, &format!("is {truth:.6}, found {got:.6?}"));
    }

    fn equal(&mut self, row: &'static str, case: &Case, truth: usize, got: Option<f64>) {
        let off = got.map_or(f64::INFINITY, |got| (got - truth as f64).abs() * 2.0);
        self.add(row, case, off, &format!("is {truth}, found {got:?}"));
    }

    fn add(&mut self, row: &'static str, case: &Case, off: f64, words: &str) {
        let tally = self.0.entry(row).or_default();
        tally.compared += 1;
        tally.worst = tally.worst.max(off);
        if off > 1.0 {
            tally.misses.push(format!("{}: {words}", case.name));
        }
    }

    fn compare(&mut self, case: &Case) {
        if let Some(skew) = case.skew {
            let told = usize::from(skew.finding().is_some());
            self.add(
                "no skew told",
                case,
                2.0 * told as f64,
                &format!("{skew:?}"),
            );
        }
        self.equal("starts found", case, 1, Some(case.found.len() as f64));
        let [start] = case.found.as_slice() else {
            return;
        };
        let (truth, m, at) = (&case.truth, &start.measures, &start.instants);
        let instant = f64::max(2.0 / case.rate_hz, 0.1e-3);
        self.near("t_open_s", case, truth.t_open_s, at.t_open_s, instant);
        self.near("t_first_s", case, truth.t_first_s, at.t_first_s, instant);
        self.equal("attempts", case, truth.attempts, m.attempts);
        self.equal(
            "lit",
            case,
            truth.t_lit_s.is_some().into(),
            Some(f64::from(u8::from(start.lit()))),
        );
        self.near("t_lit_s", case, truth.t_lit_s, at.t_lit_s, instant);
        if truth.t_lit_s.is_none() || at.t_lit_s.is_none() {
            return;
        }
        self.settling(case, start);
        self.equal("dropouts", case, truth.dropouts, m.dropouts);
        if truth.t_open_s.is_some() {
            self.equal("touches", case, truth.touches, m.touches);
        }
        if let Some(missed) = truth.missed_halfcycles {
            self.equal("missed_halfcycles", case, missed, m.missed_halfcycles);
        }
        self.near(
            "en_share_pct",
            case,
            truth.en_share_pct,
            m.en_share_pct,
            0.5,
        );
        self.near(
            "ac_hz",
            case,
            truth.ac_hz,
            m.ac_hz,
            0.002 * truth.ac_hz.unwrap_or(0.0),
        );
        self.near(
            "run_a",
            case,
            truth.run_a,
            m.run_a,
            0.02 * truth.run_a.unwrap_or(0.0),
        );
        self.wander(case, start);
    }

    fn settling(&mut self, case: &Case, start: &Start) {
        let settle = |lit: Option<f64>, settled: Option<f64>| Some(settled? - lit?);
        let truth = settle(case.truth.t_lit_s, case.truth.t_settled_s);
        let got = settle(start.instants.t_lit_s, start.instants.t_settled_s);
        let tolerance = (3.0 / case.rate_hz)
            .max(0.02 * truth.unwrap_or(0.0))
            .max(0.5e-3);
        self.near("settle", case, truth, got, tolerance);
    }

    /// Wander is compared where the logger's own noise in the band is under a third of it.
    fn wander(&mut self, case: &Case, start: &Start) {
        let Some(truth) = case
            .truth
            .wander_v
            .filter(|_| case.truth.t_open_s.is_some())
        else {
            return;
        };
        let (row, share) = match case.truth.ac_hz.or(case.truth.pulse_hz) {
            Some(_) => ("wander_v, AC and pulse", 0.2),
            None => ("wander_v, DC", 0.1),
        };
        if case.noise_in_band() < truth / 3.0 {
            self.near(
                row,
                case,
                Some(truth),
                start.measures.wander_v,
                share * truth,
            );
        }
    }

    fn text(&self) -> String {
        let mut text = String::from(
            "| measure | compared | inside | share | worst / tolerance |\n| --- | --- | --- | --- | --- |\n",
        );
        for (row, tally) in &self.0 {
            let inside = tally.compared - tally.misses.len();
            let share = 100.0 * inside as f64 / tally.compared as f64;
            let _ = writeln!(
                text,
                "| {row} | {} | {inside} | {share:.2} % | {:.2} |",
                tally.compared, tally.worst
            );
        }
        text
    }
}

#[test]
fn made_starts_of_every_kind_are_found_and_measured() {
    let only = std::env::var("TIPSTRIKE_KIND").ok();
    let chosen = |kind: &&Kind| only.as_deref().is_none_or(|name| name == kind.name());
    let numbers: Vec<(Kind, usize)> = Kind::ALL
        .iter()
        .filter(chosen)
        .flat_map(|kind| (0..per_kind()).map(move |n| (*kind, n)))
        .collect();
    let cases: Vec<Case> = numbers
        .par_iter()
        .map(|(kind, n)| case(*kind, *n))
        .collect();
    let mut table = Table::default();
    cases.iter().for_each(|c| table.compare(c));
    println!("{}", table.text());
    for (row, tally) in &table.0 {
        for miss in &tally.misses {
            println!("{row}: {miss}");
        }
    }
    assert!(!cases.is_empty(), "no kind is called {only:?}");
    for (row, share) in SHARES {
        let Some(tally) = table.0.get(row) else {
            assert!(only.is_some(), "nothing was compared in {row}");
            continue;
        };
        let inside = (tally.compared - tally.misses.len()) as f64;
        let got = 100.0 * inside / tally.compared as f64;
        assert!(got >= share, "{row}: {got:.2} % inside, not {share} %");
    }
}
