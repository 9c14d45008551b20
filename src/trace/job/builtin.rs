//! The built-in targets: starting points of this project, because no published limits exist.
//!
//! docs/scoring.md gives the reason for each number. A shop should replace them with its own.

use std::sync::Arc;

use crate::job::prep::{Prep, Tip};
use crate::job::run::Process;
use crate::job::target_set::Target;
use crate::measure::Measure;

/// What the built-in targets depend on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Basis {
    /// DC or AC.
    pub process: Process,
    /// Amps set, or measured amps if the sheet has none; `None` if not known.
    pub amps: Option<f64>,
    /// Whether the tip is slower to start than a pointed one: rounded, balled, or with a flat over half the diameter.
    pub blunt: bool,
}

impl Basis {
    /// The basis for a prep at a process and current.
    pub fn new(prep: &Prep, process: Process, amps: Option<f64>) -> Basis {
        let wide = match (prep.tip_flat, prep.diameter) {
            (Some(flat), Some(diameter)) => flat.mm() > diameter.mm() / 2.0,
            _ => false,
        };
        Basis {
            process,
            amps,
            blunt: wide || matches!(prep.tip, Some(Tip::Rounded | Tip::Balled)),
        }
    }

    /// One basis for every row of the table.
    pub(super) fn all() -> impl Iterator<Item = Basis> {
        [Process::Dc, Process::Ac].into_iter().flat_map(|process| {
            [10.0, 100.0, 200.0].into_iter().flat_map(move |amps| {
                [false, true].into_iter().map(move |blunt| Basis {
                    process,
                    amps: Some(amps),
                    blunt,
                })
            })
        })
    }

    fn row(&self) -> &'static Band {
        let rows = if self.process.is_ac() { &AC } else { &DC };
        match self.amps {
            Some(amps) => rows
                .iter()
                .find(|row| amps < row.under_a)
                .expect("the last band has no end"),
            None => &rows[1],
        }
    }
}

/// A band of amps with (good, poor) of each measure.
struct Band {
    under_a: f64,
    band: &'static str,
    start_ms: (f64, f64),
    overshoot_pct: (f64, f64),
    wander_v: (f64, f64),
}

#[rustfmt::skip]
static DC: [Band; 3] = [
    Band { under_a: 30.0,          band: "under 30 A",  start_ms: (100.0, 600.0), overshoot_pct: (20.0, 100.0), wander_v: (0.25, 1.2) },
    Band { under_a: 150.0,         band: "30 to 150 A", start_ms: (60.0, 400.0),  overshoot_pct: (15.0, 80.0),  wander_v: (0.20, 1.0) },
    Band { under_a: f64::INFINITY, band: "150 A and over", start_ms: (80.0, 500.0), overshoot_pct: (15.0, 60.0), wander_v: (0.20, 1.0) },
];

#[rustfmt::skip]
static AC: [Band; 3] = [
    Band { under_a: 50.0,          band: "under 50 A",  start_ms: (150.0, 800.0), overshoot_pct: (25.0, 120.0), wander_v: (0.40, 1.6) },
    Band { under_a: 150.0,         band: "50 to 150 A", start_ms: (100.0, 600.0), overshoot_pct: (20.0, 100.0), wander_v: (0.35, 1.4) },
    Band { under_a: f64::INFINITY, band: "150 A and over", start_ms: (120.0, 600.0), overshoot_pct: (20.0, 80.0), wander_v: (0.35, 1.4) },
];

/// (good, poor, weight) of the attempts, the same in all bands.
const ATTEMPTS: (f64, f64, f64) = (1.0, 4.0, 2.0);
const DROPOUTS: (f64, f64, f64) = (0.0, 4.0, 2.0);
const TOUCHES: (f64, f64, f64) = (0.0, 3.0, 1.0);
const MISSED: (f64, f64, f64) = (0.0, 10.0, 1.0);

/// Factor on the start time of blunt tips, which have more metal to heat before they emit.
const BLUNT_START: f64 = 1.5;

/// Whether any process has a built-in target for the measure.
pub fn knows(measure: Measure) -> bool {
    Basis::all().any(|basis| targets(&basis).iter().any(|t| t.measure == measure))
}

/// Returns the built-in targets for a basis, with their origin in words.
pub fn targets(basis: &Basis) -> Vec<Target> {
    let row = basis.row();
    let process = if basis.process.is_ac() { "AC" } else { "DC" };
    let band = if basis.amps.is_some() {
        row.band
    } else {
        "amps not known"
    };
    let tip = if basis.blunt { ", blunt tip" } else { "" };
    let origin: Arc<str> = format!("built in ({process}, {band}{tip})").into();
    let stretch = if basis.blunt { BLUNT_START } else { 1.0 };
    let start = (row.start_ms.0 * stretch, row.start_ms.1 * stretch);
    let with = |(good, poor): (f64, f64), weight: f64| (good, poor, weight);
    let mut numbers = vec![
        (Measure::StartMs, with(start, 3.0)),
        (Measure::Attempts, ATTEMPTS),
        (Measure::OvershootPct, with(row.overshoot_pct, 1.0)),
        (Measure::Dropouts, DROPOUTS),
        (Measure::Touches, TOUCHES),
        (Measure::WanderV, with(row.wander_v, 2.0)),
    ];
    if basis.process.is_ac() {
        numbers.push((Measure::MissedHalfcycles, MISSED));
    }
    numbers
        .into_iter()
        .map(|(measure, (good, poor, weight))| Target {
            measure,
            good,
            poor,
            shape: 1.0,
            weight,
            origin: origin.clone(),
        })
        .collect()
}
