//! The score of one start: desirability functions after Derringer & Suich.
//!
//! G. Derringer, R. Suich, "Simultaneous optimization of several response variables",
//! Journal of Quality Technology 12 (1980) 214–219; NIST/SEMATECH e-Handbook 5.5.3.2.2.

use crate::flag::Flag;
use crate::job::target_set::Target;
use crate::job::targets::Targets;
use crate::measure::Measure;
use crate::score::{Score, ScorePart, Verdict};
use crate::start::Start;

/// Score from which a start can be crisp.
pub const CRISP: f64 = 80.0;
/// Score under which a start is rough.
pub const ROUGH: f64 = 50.0;

/// Smaller-is-better desirability: 1 at or below `good`, 0 at or above `poor`.
pub fn desirability(value: f64, good: f64, poor: f64, shape: f64) -> f64 {
    assert!(good < poor && shape > 0.0, "targets are checked when read");
    let reached = ((poor - value) / (poor - good)).clamp(0.0, 1.0);
    libm::pow(reached, shape)
}

/// Weighted geometric mean of (desirability, weight); `None` where nothing carries weight.
///
/// A desirability of 0 makes it 0: one measure past its poor level spoils the start.
pub fn overall(parts: impl IntoIterator<Item = (f64, f64)>) -> Option<f64> {
    let (mut weights, mut logs) = (0.0, 0.0);
    for (desirability, weight) in parts.into_iter().filter(|(_, weight)| *weight > 0.0) {
        weights += weight;
        logs += weight * libm::log(desirability);
    }
    (weights > 0.0).then(|| libm::exp(logs / weights))
}

/// What the score would gain, in points, were each part in turn as good as it need be.
fn set_costs(parts: &mut [ScorePart], value: f64) {
    let pairs: Vec<(f64, f64)> = parts.iter().map(|p| (p.desirability, p.weight)).collect();
    for (i, part) in parts.iter_mut().enumerate() {
        let mended = pairs.iter().enumerate().map(|(j, pair)| match i == j {
            true => (1.0, pair.1),
            false => *pair,
        });
        let best = overall(mended).expect("the weights are the same");
        part.cost = 100.0 * best - value;
    }
}

/// Scores one start against its targets; `None` where it lit and none of the targets' measures
/// could be measured.
///
/// A start that never lit scores 0. One that did not settle scores 0 on start time. A measure that
/// is empty drops out with its weight and is listed as missing.
pub fn score(start: &Start, targets: &Targets) -> Option<Score> {
    let rough_attempts = targets.rough_attempts;
    if !start.lit() {
        return Some(Score {
            value: 0.0,
            verdict: verdict(start, 0.0, rough_attempts),
            parts: Vec::new(),
            missing: Vec::new(),
            rough_attempts,
        });
    }
    let (mut parts, mut missing) = (Vec::new(), Vec::new());
    for target in targets.list.iter().filter(|t| t.weight > 0.0) {
        match part(start, target) {
            Some(part) => parts.push(part),
            None => missing.push(target.measure),
        }
    }
    let value = 100.0 * overall(parts.iter().map(|p| (p.desirability, p.weight)))?;
    set_costs(&mut parts, value);
    // A score is kept for each start of a night.
    parts.shrink_to_fit();
    missing.shrink_to_fit();
    Some(Score {
        value,
        verdict: verdict(start, value, rough_attempts),
        parts,
        missing,
        rough_attempts,
    })
}

fn part(start: &Start, target: &Target) -> Option<ScorePart> {
    let not_settled = target.measure == Measure::StartMs && start.flags.contains(&Flag::NotSettled);
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

/// A measure that is not there speaks neither for nor against: it only keeps a start from being crisp.
fn verdict(start: &Start, value: f64, rough_attempts: u32) -> Verdict {
    let (attempts, dropouts) = (start.measures.attempts, start.measures.dropouts);
    let dropped = dropouts.is_some_and(|n| n > 0.0);
    let too_many = attempts.is_some_and(|n| n > f64::from(rough_attempts));
    if !start.doubts.is_empty() {
        Verdict::Doubtful
    } else if !start.lit() {
        Verdict::NoLight
    } else if value < ROUGH || dropped || too_many {
        Verdict::Rough
    } else if value >= CRISP && attempts == Some(1.0) && dropouts == Some(0.0) {
        Verdict::Crisp
    } else {
        Verdict::Fair
    }
}
