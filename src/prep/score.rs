//! The score of one start: desirability functions after Derringer & Suich.
//!
//! G. Derringer, R. Suich, "Simultaneous optimization of several response variables",
//! Journal of Quality Technology 12 (1980) 214–219; NIST/SEMATECH e-Handbook 5.5.3.2.2.

use super::targets::{Target, Targets};
use super::{Score, ScorePart, Verdict};
use crate::flag::Flag;
use crate::start::Start;

/// Score from which a start can be crisp.
pub const CRISP: f64 = 80.0;
/// Score under which a start is rough.
pub const ROUGH: f64 = 50.0;

/// Smaller-is-better desirability: 1 at or below `good`, 0 at or above `poor`.
pub fn desirability(value: f64, good: f64, poor: f64, shape: f64) -> f64 {
    assert!(good < poor && shape > 0.0, "targets are checked when read");
    ((poor - value) / (poor - good)).clamp(0.0, 1.0).powf(shape)
}

/// Weighted geometric mean of desirabilities, ×100; `None` where nothing carries weight.
///
/// A desirability of 0 makes it 0: one measure past its poor level spoils the start.
fn overall<'a>(parts: impl Iterator<Item = &'a ScorePart> + Clone) -> Option<f64> {
    let weight: f64 = parts.clone().map(|p| p.weight).sum();
    let log_sum: f64 = parts
        .filter(|p| p.weight > 0.0)
        .map(|p| p.weight * p.desirability.ln())
        .sum();
    (weight > 0.0).then(|| 100.0 * (log_sum / weight).exp())
}

/// Scores one start against its targets; `None` where it lit and none of the targets' measures
/// could be measured.
///
/// A start that never lit scores 0. One that did not settle scores 0 on start time. A measure that
/// is empty drops out with its weight and is listed as missing.
pub fn score(start: &Start, targets: &Targets) -> Option<Score> {
    let (mut parts, mut missing) = (Vec::new(), Vec::new());
    for target in targets.list.iter().filter(|t| t.weight > 0.0) {
        match part(start, target) {
            Some(part) => parts.push(part),
            None => missing.push(target.measure),
        }
    }
    if !start.lit() {
        return Some(Score {
            value: 0.0,
            verdict: Verdict::NoLight,
            parts: Vec::new(),
            missing: Vec::new(),
        });
    }
    let value = overall(parts.iter())?;
    for i in 0..parts.len() {
        let mut mended = parts.clone();
        mended[i].desirability = 1.0;
        let best = overall(mended.iter()).expect("the weights are the same");
        parts[i].cost = best - value;
    }
    Some(Score {
        value,
        verdict: verdict(start, value, targets.rough_attempts),
        parts,
        missing,
    })
}

fn part(start: &Start, target: &Target) -> Option<ScorePart> {
    let not_settled = target.measure == "start_ms" && start.flags.contains(&Flag::NotSettled);
    let value = start.measures.get(target.measure).map(f64::abs);
    let desirability = match value {
        _ if not_settled => 0.0,
        Some(value) => desirability(value, target.good, target.poor, target.shape),
        None => return None,
    };
    Some(ScorePart {
        measure: target.measure,
        value,
        good: target.good,
        poor: target.poor,
        shape: target.shape,
        weight: target.weight,
        desirability,
        cost: 0.0,
        origin: target.origin.clone(),
    })
}

fn verdict(start: &Start, value: f64, rough_attempts: u32) -> Verdict {
    let attempts = start.measures.attempts;
    let dropouts = start.measures.dropouts;
    let dropped = dropouts.is_some_and(|n| n > 0.0);
    let too_many = attempts.is_some_and(|n| n > f64::from(rough_attempts));
    if value < ROUGH || dropped || too_many {
        Verdict::Rough
    } else if value >= CRISP && attempts == Some(1.0) && dropouts == Some(0.0) {
        Verdict::Crisp
    } else {
        Verdict::Fair
    }
}
