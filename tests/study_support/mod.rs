//! Starts built by hand, and chance with a fixed seed.
#![allow(dead_code)] // Each test file uses its own part.

use rand::RngExt;
use rand::rngs::ChaCha8Rng;
use tipstrike::measure::MeasureValues;
use tipstrike::measuring::gather::StartSet;
use tipstrike::report::words::spoils;
use tipstrike::score::{StartRow, Verdict};
use tipstrike::start::Instants;
use tipstrike::stats::normal_quantile;
use tipstrike::study::{Comparison, ScreenOptions, Screening, screen};

/// What a comparison warns of, in words.
pub fn said(comparison: &Comparison) -> Vec<String> {
    let warnings = comparison.warnings.iter();
    warnings.map(spoils).collect()
}

/// A start that lit, with this score and the word that goes with it.
pub fn start(prep: &str, number: u32, score: f64) -> StartRow {
    StartRow {
        recording: format!("{prep}.wav").into(),
        run: 1,
        prep: prep.into(),
        start: number,
        instants: Instants {
            t_first_s: Some(f64::from(number)),
            t_lit_s: Some(f64::from(number) + 0.01),
            ..Instants::default()
        },
        measures: MeasureValues::default(),
        flags: Vec::new(),
        doubt: None,
        score: Some(score),
        verdict: Some(match score {
            s if s < 50.0 => Verdict::Rough,
            s if s < 80.0 => Verdict::Fair,
            _ => Verdict::Crisp,
        }),
        ..StartRow::default()
    }
}

/// A start that did not light.
pub fn no_light(prep: &str, number: u32) -> StartRow {
    let mut row = start(prep, number, 0.0);
    row.instants.t_lit_s = None;
    row.verdict = Some(Verdict::NoLight);
    row
}

/// Starts of one prep with these scores, numbered from 1.
pub fn starts(prep: &str, scores: &[f64]) -> Vec<StartRow> {
    scores
        .iter()
        .zip(1..)
        .map(|(&score, number)| start(prep, number, score))
        .collect()
}

/// A batch of these starts, screened.
pub fn screened(rows: Vec<StartRow>, options: &ScreenOptions) -> Screening {
    let gathered = StartSet {
        rows,
        ..StartSet::default()
    };
    screen(&gathered, options).unwrap()
}

/// Thirty crisp starts with a little spread.
pub fn clean() -> Vec<StartRow> {
    let scores: Vec<f64> = (0..30).map(|i| 88.0 + f64::from(i * 7 % 5)).collect();
    starts("A", &scores)
}

/// A standard normal value.
pub fn normal(rng: &mut ChaCha8Rng) -> f64 {
    normal_quantile(rng.random_range(1e-12..1.0 - 1e-12))
}

/// A skewed value, as start times are.
pub fn skewed(rng: &mut ChaCha8Rng) -> f64 {
    (4.0 + 0.5 * normal(rng)).exp()
}

/// One start a row, each tip of a grind on its coupon: scores and start times as given.
pub fn on_tip(prep: &str, tip: &str, coupon: &str, number: u32, score: f64) -> StartRow {
    StartRow {
        recording: format!("{prep}-{tip}.wav").into(),
        tip_id: Some(tip.into()),
        coupon: Some(coupon.into()),
        ..start(prep, number, score)
    }
}
