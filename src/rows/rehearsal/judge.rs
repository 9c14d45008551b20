//! Pairs become figures: bias, spread, shares, thresholds, and the cause of the worst.

use crate::measure::Measure;
use crate::rehearsal::answer::{
    CountRight, Dot, FalseStarts, MeasureSpread, Part, Shows, Spread, Worst,
};
use crate::rehearsal::draw::Special;
use crate::rehearsal::lay::Cause;
use crate::rehearsal::pairs::{Pair, Paired, truth};
use crate::stats;
use crate::stats::Agreement;

/// Measures with a unit that are held against the truth.
pub(crate) const MEASURES: [Measure; 9] = [
    Measure::DelayMs,
    Measure::StutterMs,
    Measure::SettleMs,
    Measure::StartMs,
    Measure::RunA,
    Measure::RunV,
    Measure::WanderV,
    Measure::DropoutMs,
    Measure::EnSharePct,
];
/// Counts that are.
const COUNTS: [Measure; 3] = [
    Measure::Attempts,
    Measure::Dropouts,
    Measure::MissedHalfcycles,
];
/// Fewer pairs tell no spread.
const LEAST_PAIRS: usize = 8;
/// A cause stands out where the measure is better by this part without it.
const STANDS_OUT: f64 = 0.2;
/// Something shows where this share of it is found.
const SHOWN: f64 = 0.95;

impl Spread {
    fn of(found: Agreement) -> Spread {
        Spread {
            n: found.n,
            bias: found.bias,
            bias_lo: found.bias_interval.lo,
            bias_hi: found.bias_interval.hi,
            sd: found.sd,
            lo: found.limits.lo,
            lo_lo: found.lower_interval.lo,
            lo_hi: found.lower_interval.hi,
            hi: found.limits.hi,
            hi_lo: found.upper_interval.lo,
            hi_hi: found.upper_interval.hi,
        }
    }
}

pub(crate) fn part(count: usize, of: usize, level: f64) -> Part {
    let share = stats::clopper_pearson(count as u64, of as u64, level);
    Part {
        count,
        of,
        lo: share.lo,
        hi: share.hi,
    }
}

/// Bias and spread of a measure; `None` of too few pairs.
pub(crate) fn spread(pairs: &[Pair], measure: Measure, level: f64) -> Option<Spread> {
    let compared = pairs.iter().filter(|pair| pair.compares());
    let values = compared.filter_map(|pair| pair.values(measure));
    let differences: Vec<f64> = values.map(|(truth, measured)| measured - truth).collect();
    if differences.len() < LEAST_PAIRS {
        return None;
    }
    stats::agreement(&differences, level).map(Spread::of)
}

/// Made starts as this logger gives them, as one that adds nothing does, and some of them with a cause left out.
#[derive(Default)]
pub(crate) struct Played {
    pub whole: Vec<Pair>,
    pub clean: Vec<Pair>,
    /// The first of the whole ones.
    pub first: Vec<Pair>,
    pub without: Vec<(Cause, Vec<Pair>)>,
    pub level: f64,
}

impl Played {
    /// Adds starts that were played without a cause.
    pub fn add_without(&mut self, cause: Cause, pairs: Vec<Pair>) {
        match self.without.iter_mut().find(|(known, _)| *known == cause) {
            Some((_, known)) => known.extend(pairs),
            None => self.without.push((cause, pairs)),
        }
    }

    /// Every measure that could be compared.
    pub fn measures(&self) -> Vec<MeasureSpread> {
        let of = |&measure: &Measure| {
            Some(MeasureSpread {
                measure,
                spread: spread(&self.whole, measure, self.level)?,
                clean: spread(&self.clean, measure, self.level),
                worst: self.worst(measure),
            })
        };
        MEASURES.iter().filter_map(of).collect()
    }

    /// The cause without which a measure is best, where that stands out.
    fn worst(&self, measure: Measure) -> Option<Worst> {
        let with = spread(&self.first, measure, self.level)?;
        let each = self.without.iter().filter_map(|(cause, pairs)| {
            Some(Worst {
                cause: *cause,
                without: spread(pairs, measure, self.level)?,
                with,
            })
        });
        each.min_by(|a, b| a.without.rms().total_cmp(&b.without.rms()))
            .filter(|worst| worst.without.rms() < (1.0 - STANDS_OUT) * with.rms())
    }

    /// Every count that the made starts have.
    pub fn counts(&self) -> Vec<CountRight> {
        let of = |&measure: &Measure| {
            let compared = self.whole.iter().filter(|pair| pair.compares());
            let values: Vec<(f64, f64)> = compared.filter_map(|p| p.values(measure)).collect();
            let right = values.iter().filter(|(a, b)| a == b).count();
            (!values.is_empty()).then(|| CountRight {
                measure,
                right: part(right, values.len(), self.level),
            })
        };
        COUNTS.iter().filter_map(of).collect()
    }

    /// Made starts but the weak ones.
    fn strong(&self) -> impl Iterator<Item = &Pair> {
        self.whole.iter().filter(|p| p.special != Special::Weak)
    }

    pub fn found(&self) -> Part {
        let found = self.strong().filter(|pair| pair.found()).count();
        part(found, self.strong().count(), self.level)
    }

    pub fn doubtful(&self) -> Part {
        let found = self.strong().filter(|pair| pair.found());
        let doubtful = self
            .strong()
            .filter(|pair| pair.found() && pair.doubtful())
            .count();
        part(doubtful, found.count(), self.level)
    }

    /// From which current on a start is found.
    pub fn smallest_current_a(&self) -> Shows {
        let weak = self.whole.iter().filter(|p| p.special == Special::Weak);
        self.shows(weak.filter_map(|pair| Some((pair.truth.run_a?, pair.found()))))
    }

    /// From which length on, ms, a dropout is counted.
    pub fn shortest_dropout_ms(&self) -> Shows {
        let dropped = self.whole.iter().filter(|p| p.truth.dropouts == 1);
        self.shows(dropped.filter_map(|pair| {
            let start = pair.start.as_ref()?;
            Some((
                pair.truth.dropout_longest_ms,
                start.measures.dropouts == Some(1.0),
            ))
        }))
    }

    fn shows(&self, made: impl Iterator<Item = (f64, bool)>) -> Shows {
        let mut made: Vec<(f64, bool)> = made.collect();
        made.sort_by(|a, b| a.0.total_cmp(&b.0));
        let ends = made.first().zip(made.last());
        let found_from = |k: usize| made[k..].iter().filter(|m| m.1).count();
        let from = (0..made.len())
            .find(|k| made[*k].1 && found_from(*k) as f64 >= SHOWN * (made.len() - k) as f64);
        Shows {
            from: from.map(|k| made[k].0),
            made: ends.map_or((0.0, 0.0), |(first, last)| (first.0, last.0)),
            found: from.map(|k| part(found_from(k), made.len() - k, self.level)),
        }
    }

    pub fn dots(&self) -> Vec<Dot> {
        let compared = self.whole.iter().filter(|pair| pair.compares());
        let of = |pair: &Pair| {
            let dots = MEASURES.iter().filter_map(|&measure| {
                let (truth, measured) = pair.values(measure)?;
                Some(Dot {
                    measure,
                    truth,
                    measured,
                })
            });
            dots.collect::<Vec<_>>()
        };
        compared.flat_map(of).collect()
    }

    /// Shares of rough starts that are taken for others, and of others that are taken for rough.
    /// `None` where too few of either count.
    pub fn misjudged(&self) -> Option<(f64, f64)> {
        let judged: Vec<(bool, bool)> = self.strong().filter_map(Pair::rough).collect();
        let rough = judged.iter().filter(|(truth, _)| *truth).count();
        if rough.min(judged.len() - rough) < LEAST_PAIRS {
            return None;
        }
        let share = |rough: bool| {
            let own = judged.iter().filter(|(truth, _)| *truth == rough);
            let wrong = own.clone().filter(|(_, measured)| *measured != rough);
            wrong.count() as f64 / own.count().max(1) as f64
        };
        Some((share(true), share(false)))
    }

    /// True values of a measure of the made starts.
    pub fn truths(&self, measure: Measure) -> Vec<f64> {
        let compared = self.whole.iter().filter(|pair| pair.compares());
        compared.filter_map(|p| truth(&p.truth, measure)).collect()
    }
}

/// Starts that nobody made, in the rest of all.
pub(crate) fn false_starts(paired: &[Paired], level: f64) -> FalseStarts {
    let count = paired.iter().map(|p| p.invented).sum();
    let rest_s: f64 = paired.iter().map(|p| p.rest_s).sum();
    let hours = rest_s / 3600.0;
    FalseStarts {
        count,
        rest_s,
        per_hour: count as f64 / hours,
        per_hour_hi: stats::poisson_rate(count as u64, hours, level).hi,
    }
}
