//! Do regrind numbers, looks after every start, and plans keep their promises where tips differ?
//!
//! Short by default; `TIPSTRIKE_LONG=1` draws twenty times as many (docs/statistics.md quotes those).

use rand::RngExt;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use tipstrike::measure::Measure;
use tipstrike::score::StartRow;
use tipstrike::stats::{TipTrial, TipValue, tip_rates, tip_shift, tips_size};
use tipstrike::study::plan::{Asked, STAGE_LEVEL, for_rates};
use tipstrike::study::{CompareOptions, PairVerdict, WearOf, WearVerdict, compare_rows, wear};

use crate::study_support::{normal, start};

fn runs(short: usize) -> usize {
    short * if crate::long_form::long() { 20 } else { 1 }
}

/// Tips of a score that falls from 90 by ½ a start, so that the usual tip meets 65 at 50.
#[derive(Clone, Copy)]
struct Tips {
    tips: usize,
    /// Starts of the shortest and of the longest tip.
    length: (u32, u32),
    /// Standard deviation of the tips' levels, points.
    level: f64,
    /// And of their slopes, points a start.
    slope: f64,
    /// Correlation of one start with the next on a tip.
    serial: f64,
    /// The usual slope.
    usual: f64,
}

const WORN: Tips = Tips {
    tips: 5,
    length: (40, 40),
    level: 5.0,
    slope: 0.1,
    serial: 0.0,
    usual: -0.5,
};

impl Tips {
    fn draw(&self, rng: &mut ChaCha8Rng) -> Vec<StartRow> {
        let mut rows = Vec::new();
        for tip in 0..self.tips {
            let level = 90.0 + self.level * normal(rng);
            let slope = self.usual + self.slope * normal(rng);
            let mut noise = normal(rng);
            for k in 1..=rng.random_range(self.length.0..=self.length.1) {
                let score = level + slope * f64::from(k) + 3.0 * noise;
                let mut row = start("A", rows.len() as u32 + 1, score);
                row.tip_id = Some(format!("A{tip}").into());
                row.measures.set(Measure::SinceRegrind, Some(f64::from(k)));
                rows.push(row);
                let left = (1.0 - self.serial * self.serial).sqrt();
                noise = self.serial * noise + left * normal(rng);
            }
        }
        rows
    }

    /// Part of the draws that are called wear; of those with a number, the part whose interval holds 50.
    fn told(&self, seed: u64, runs: usize) -> (f64, f64) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let limit = |_: &str, measure: &str| (measure == "score").then_some(65.0);
        let (mut wears, mut given, mut held) = (0, 0, 0);
        for _ in 0..runs {
            let found = wear(&self.draw(&mut rng), "prep", 0.95, limit);
            let found = &found[0];
            assert_eq!(found.about, WearOf::Prep);
            wears += usize::from(found.verdict == WearVerdict::Wears);
            if found.at.is_some() && found.change_at.is_none() {
                given += 1;
                let (lo, hi) = (found.lo.unwrap_or(0.0), found.hi.unwrap_or(f64::INFINITY));
                held += usize::from(lo <= 50.0 && 50.0 <= hi);
            }
        }
        (
            wears as f64 / runs as f64,
            held as f64 / f64::from(given.max(1)),
        )
    }
}

#[test]
fn regrind_intervals_hold_the_true_number_where_tips_differ_in_level_and_slope() {
    for (seed, tips) in [
        (1, WORN),
        (
            2,
            Tips {
                tips: 3,
                slope: 0.15,
                ..WORN
            },
        ),
        (
            3,
            Tips {
                slope: 0.2,
                serial: 0.5,
                ..WORN
            },
        ),
        (
            4,
            Tips {
                length: (8, 40),
                serial: 0.3,
                ..WORN
            },
        ),
        (
            5,
            Tips {
                tips: 10,
                length: (25, 40),
                level: 10.0,
                slope: 0.15,
                ..WORN
            },
        ),
    ] {
        let (wears, held) = tips.told(seed, runs(150));
        assert!(held >= 0.90 && wears > 0.5, "case {seed}: {wears} {held}");
    }
}

/// Three measures look at each tip: one of them alone calls wear to the worse in 5/3/2 = 0.8 of 100.
#[test]
fn tips_that_differ_in_level_and_slope_but_do_not_wear_are_not_called_worn() {
    for (seed, tips) in [
        (
            6,
            Tips {
                usual: 0.0,
                slope: 0.0,
                ..WORN
            },
        ),
        (
            7,
            Tips {
                usual: 0.0,
                slope: 0.2,
                ..WORN
            },
        ),
        (
            8,
            Tips {
                usual: 0.0,
                slope: 0.0,
                serial: 0.6,
                tips: 3,
                ..WORN
            },
        ),
    ] {
        let (wears, _) = tips.told(seed, runs(250));
        assert!(wears <= 0.025, "case {seed}: {wears}");
    }
}

/// Scores of starts of two equal preps, the levels of tips being `share` of the variance, ceilinged at 100.
fn struck(rng: &mut ChaCha8Rng, tips: usize, share: f64) -> Vec<StartRow> {
    let mut rows = Vec::new();
    for tip in 0..tips {
        let levels = [0, 1].map(|_| share.sqrt() * normal(rng));
        for _ in 0..4 {
            for (prep, level) in ["A", "B"].into_iter().zip(levels) {
                let z = level + (1.0 - share).sqrt() * normal(rng);
                let score = (85.0 + 20.0 * z).clamp(0.0, 100.0);
                let mut row = start(prep, rows.len() as u32 + 1, score);
                row.tip_id = Some(format!("{prep}{tip}").into());
                row.coupon = Some(format!("L{}", tip % 2).into());
                rows.push(row);
            }
        }
    }
    rows
}

#[test]
fn looking_after_every_start_tells_equal_grinds_apart_in_fewer_than_five_of_100() {
    let options = CompareOptions {
        measures: vec!["score".into()],
        while_striking: true,
        ..CompareOptions::default()
    };
    for (seed, share) in [(9, 0.0), (10, 0.2), (11, 0.5)] {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let runs = runs(60);
        let cried = (0..runs).filter(|_| {
            let rows = struck(&mut rng, 8, share);
            (8..=rows.len()).any(|n| {
                let found = compare_rows(&rows[..n], &options).unwrap();
                found.while_striking[0].verdict != PairVerdict::NotEnough
            })
        });
        let cried = cried.count() as f64 / runs as f64;
        assert!(cried <= 0.05, "share {share}: {cried}");
    }
}

#[test]
fn two_declared_stages_err_in_five_of_100_together_and_find_what_was_planned() {
    let told = |seed, tips: usize, shift: f64| {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let runs = runs(2000);
        let told = (0..runs).filter(|_| {
            let values: Vec<TipValue> = (0..2 * tips)
                .map(|tip| TipValue {
                    group: tip % 2,
                    tip,
                    block: 0,
                    value: normal(&mut rng) + shift * (tip % 2) as f64,
                    starts: 1,
                })
                .collect();
            [tips, 2 * tips].iter().any(|n| {
                let found = tip_shift(&values[..*n], 0, 1).unwrap();
                found.spread.unwrap().p(found.shift) < 1.0 - STAGE_LEVEL
            })
        });
        told.count() as f64 / runs as f64
    };
    let equal = told(12, 12, 0.0);
    assert!((0.035..=0.065).contains(&equal), "{equal}");
    let planned = 2 * (1.11 * tips_size(1.0, 1.0, 0.95, 0.8) / 2.0).ceil() as usize;
    let power = told(13, planned, 1.0);
    assert!((0.75..=0.87).contains(&power), "{planned}: {power}");
}

/// Rates that differ from tip to tip another way than the plan makes them up: spread evenly about the prep's, and not
/// good tips and bad ones.
#[test]
fn a_plan_for_rates_gets_the_power_it_promises() {
    let asked = Asked {
        preps: 2,
        per_tip: 5,
        level: 0.95,
        two_stage: false,
    };
    for (seed, rates) in [(14, [0.05, 0.30]), (15, [0.10, 0.25])] {
        let plan = for_rates(rates[0], rates[1], Some(0.1), asked).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let runs = runs(400);
        let told = (0..runs).filter(|_| {
            let mut trials = Vec::new();
            for (group, rate) in rates.into_iter().enumerate() {
                for _ in 0..plan.tips {
                    // Normal on the scale of the rate, to a correlation of 0.1 between starts of a tip.
                    let sd = (0.1 * rate * (1.0 - rate)).sqrt();
                    let own = (rate + sd * normal(&mut rng)).clamp(0.0, 1.0);
                    let events = (0..5).filter(|_| rng.random_bool(own)).count();
                    trials.push(TipTrial {
                        group,
                        block: 0,
                        events,
                        starts: 5,
                    });
                }
            }
            tip_rates(&trials, 0, 1, 0.95).unwrap().p < 0.01
        });
        let power = told.count() as f64 / runs as f64;
        assert!(
            (0.74..=0.90).contains(&power),
            "{rates:?}, {plan:?}: {power}"
        );
    }
}
