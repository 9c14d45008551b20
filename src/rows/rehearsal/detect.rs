//! The smallest differences that given numbers of tips and starts show, by the statistics of `plan`.

use std::collections::BTreeMap;

use crate::measure::{Measure, Transform};
use crate::rehearsal::answer::{Smallest, SmallestRate};
use crate::rehearsal::judge::Played;
use crate::rehearsal::pairs::Pair;
use crate::score::{StartRow, Verdict};
use crate::stats;
use crate::study::plan::{self, USUAL_SHARE};

/// Measures that the answer is about.
const ABOUT: [Measure; 2] = [Measure::StartMs, Measure::WanderV];
/// Fewer starts beyond one a prep tell no spread.
const LEAST_STARTS: usize = 8;
/// Rate of rough starts where the recordings hold too few to tell.
const USUAL_RATE: f64 = 0.05;
/// Chance of seeing the difference.
const POWER: f64 = 0.8;

/// What the answer is asked for.
pub(crate) struct Planned<'a> {
    pub rows: &'a [&'a StartRow],
    pub tips: u64,
    pub per_tip: u64,
    pub level: f64,
}

impl Planned<'_> {
    /// The smallest differences of start time and wander.
    pub fn smallest(&self, played: &Played) -> Vec<Smallest> {
        let of = |&measure: &Measure| self.smallest_of(measure, played);
        ABOUT.iter().filter_map(of).collect()
    }

    fn smallest_of(&self, measure: Measure, played: &Played) -> Option<Smallest> {
        let scale = measure.transform();
        let error = variance(&errors(&played.whole, measure, scale))?;
        let own = self.own(measure, scale);
        let at = match &own {
            Some((usual, _)) => *usual,
            None => stats::median(&played.truths(measure))?,
        };
        let per_tip = self.per_tip as f64;
        let tip = |variance: f64| variance * (USUAL_SHARE + (1.0 - USUAL_SHARE) / per_tip);
        let see = |variance: f64| {
            let shift = stats::tips_shift_seen(variance, self.tips as f64, self.level, POWER)?;
            Some(match scale {
                Transform::Log => 2.0 * at * (0.5 * shift).sinh(),
                Transform::Linear => shift,
            })
        };
        Some(Smallest {
            measure,
            at,
            see: own.as_ref().and_then(|(_, variance)| see(tip(*variance))),
            logger_alone: see(error / per_tip)?,
            logger_share: own.map(|(_, variance)| (error / variance).min(1.0)),
        })
    }

    /// Usual value, and variance of starts of one prep, of the recordings' own starts.
    fn own(&self, measure: Measure, scale: Transform) -> Option<(f64, f64)> {
        let mut by_prep: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
        for row in self.counted() {
            let value = row.measures.get(measure).and_then(|x| scale.apply(x));
            by_prep.entry(&row.prep).or_default().extend(value);
        }
        let count: usize = by_prep.values().map(Vec::len).sum();
        let df = count.saturating_sub(by_prep.len());
        if df < LEAST_STARTS {
            return None;
        }
        let squares = by_prep.values().map(|values| {
            let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
            values.iter().map(|x| (x - mean).powi(2)).sum::<f64>()
        });
        let variance = squares.sum::<f64>() / df as f64;
        let all: Vec<f64> = by_prep.into_values().flatten().collect();
        let usual = all.iter().sum::<f64>() / all.len() as f64;
        let usual = match scale {
            Transform::Log => usual.exp(),
            Transform::Linear => usual,
        };
        Some((usual, variance))
    }

    fn counted(&self) -> impl Iterator<Item = &&StartRow> {
        let counts = |row: &&&StartRow| row.exclude.is_none() && row.doubt.is_none();
        self.rows.iter().filter(counts)
    }

    /// The smallest rate of rough starts told from the usual one.
    pub fn smallest_rate(&self, played: &Played) -> Option<SmallestRate> {
        let (missed, invented) = played.misjudged()?;
        let rough =
            |row: &&&StartRow| matches!(row.verdict, Some(Verdict::Rough | Verdict::NoLight));
        let count = self.counted().count();
        let at = match count >= LEAST_STARTS {
            true => self.counted().filter(rough).count() as f64 / count as f64,
            false => USUAL_RATE,
        };
        let seen = |rate: f64| rate * (1.0 - missed) + (1.0 - rate) * invented;
        let shows = |percent: u32| {
            let rates = [seen(at), seen(f64::from(percent) / 100.0)];
            plan::power_of_rates(rates, self.tips, self.per_tip, self.level) >= POWER
        };
        let (mut below, mut enough) = ((100.0 * at).ceil() as u32, 101);
        while below + 1 < enough {
            let middle = below.midpoint(enough);
            match shows(middle) {
                true => enough = middle,
                false => below = middle,
            }
        }
        Some(SmallestRate {
            at,
            from: (enough <= 100).then(|| f64::from(enough) / 100.0),
            missed,
            invented,
        })
    }
}

/// Differences of measured and true values on a scale.
fn errors(pairs: &[Pair], measure: Measure, scale: Transform) -> Vec<f64> {
    let compared = pairs.iter().filter(|pair| pair.compares());
    let error = |pair: &Pair| {
        let (truth, measured) = pair.values(measure)?;
        Some(scale.apply(measured)? - scale.apply(truth)?)
    };
    compared.filter_map(error).collect()
}

fn variance(values: &[f64]) -> Option<f64> {
    stats::agreement(values, 0.95).map(|found| found.sd * found.sd)
}
