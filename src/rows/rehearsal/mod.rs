//! What could this logger, this machine, this plan show? Starts of known truth, made by the arc model, are laid onto the
//! rest of a job's own recordings and measured by the same code as always.
//!
//! A propagation of what disturbs by Monte Carlo, as JCGM 101:2008 (GUM Supplement 1) has it, with the recording's own samples
//! in place of assumed distributions; judged as two ways to measure the same (Bland & Altman 1986).

mod answer;
mod borrow;
mod detect;
mod draw;
mod hum;
mod judge;
mod lay;
mod options;
mod pairs;
mod setup;
mod stage;
mod unround;

pub use answer::{
    CountRight, Dot, FalseStarts, MeasureSpread, Of, Part, Rehearsal, Shows, Smallest,
    SmallestRate, Spread, Worst,
};
pub use lay::Cause;
pub use options::RehearseOptions;

use crate::demo::Wave;
use crate::error::Result;
use crate::job::Rehearsed;
use crate::measure::Measure;
use crate::measuring::gather::StartSet;
use crate::parallel;
use crate::score::StartRow;
use crate::stats;
use borrow::rms;
use detect::Planned;
use draw::EACH;
use judge::Played;
use pairs::Paired;
use stage::Stage;

/// Made recordings that each cause is left out of.
const LEFT_OUT_OF: u64 = 6;
/// Long rests that are looked for false starts.
const RESTS: u64 = 8;
/// None of them has more samples.
const MOST_SAMPLES: f64 = 4e6;
/// Numbers of their made recordings begin here.
const RESTS_FROM: u64 = 1 << 20;
/// Tips and starts where the job does not say.
const USUAL_TIPS: u64 = 5;
const USUAL_PER_TIP: u64 = 4;

/// Rehearses the first job of a set, or its recordings named by themselves.
///
/// # Errors
/// A set without recordings, recordings without rest, a recording that cannot be read.
pub fn rehearse(set: &StartSet, options: &RehearseOptions) -> Result<Rehearsal> {
    let stage = Stage::set(set, options)?;
    let rounds = options.starts.div_ceil(EACH).max(1) as u64;
    let numbers: Vec<u64> = (0..rounds).collect();
    let parts = parallel::each(&numbers, |number| stage.round(options.seed, *number));
    let parts: Vec<Round> = parts.into_iter().collect::<Result<_>>()?;
    let lasts_s = (options.rest_s / RESTS as f64).min(MOST_SAMPLES / stage.setup.rate_hz);
    let numbers: Vec<u64> = (RESTS_FROM..RESTS_FROM + RESTS).collect();
    let resting = parallel::each(&numbers, |number| {
        let rest = draw::rest(&stage.setup, options.seed, *number, lasts_s);
        stage.play(&rest, &[])
    });
    let mut resting: Vec<Paired> = resting.into_iter().collect::<Result<_>>()?;
    let mut played = Played {
        level: options.level,
        ..Played::default()
    };
    for round in parts {
        played.clean.extend(round.clean.pairs);
        if !round.without.is_empty() {
            played.first.extend(round.whole.pairs.clone());
        }
        for (cause, paired) in round.without {
            played.add_without(cause, paired.pairs);
        }
        played.whole.extend(round.whole.pairs.clone());
        resting.push(round.whole);
    }
    Ok(stage.told(&played, &resting, options))
}

/// One made recording: as the logger gives it, as one that adds nothing does, and with each cause left out.
struct Round {
    whole: Paired,
    clean: Paired,
    without: Vec<(Cause, Paired)>,
}

impl Stage<'_> {
    fn round(&self, seed: u64, number: u64) -> Result<Round> {
        let chunk = draw::chunk(&self.setup, seed, number);
        let left_out = match number < LEFT_OUT_OF {
            true => &Cause::ALL[..],
            false => &[],
        };
        let without = left_out
            .iter()
            .map(|cause| Ok((*cause, self.play(&chunk, &[*cause])?)));
        Ok(Round {
            without: without.collect::<Result<_>>()?,
            whole: self.play(&chunk, &[])?,
            clean: self.play(&chunk, &Cause::ALL)?,
        })
    }

    fn told(&self, played: &Played, resting: &[Paired], options: &RehearseOptions) -> Rehearsal {
        let measures = played.measures();
        // Bias is not corrected for: it counts as uncertainty (JCGM 100:2008, F.2.4.5).
        let expanded = |measure| {
            let of = measures.iter().find(|m| m.measure == measure)?;
            Some(2.0 * of.spread.rms())
        };
        let (tips, per_tip) = tips_of(&self.rows);
        let planned = Planned {
            rows: &self.rows,
            tips: options.tips.or(tips).unwrap_or(USUAL_TIPS).max(2),
            per_tip: options.per_tip.or(per_tip).unwrap_or(USUAL_PER_TIP).max(1),
            level: options.level,
        };
        Rehearsal {
            rehearsed: Rehearsed::new(expanded(Measure::StartMs), expanded(Measure::WanderV)),
            made: played.whole.len(),
            seed: options.seed,
            level: options.level,
            of: self.of(),
            said: self.said.clone(),
            found: played.found(),
            doubtful: played.doubtful(),
            false_starts: judge::false_starts(resting, options.level),
            counts: played.counts(),
            smallest_current_a: played.smallest_current_a(),
            shortest_dropout_ms: played.shortest_dropout_ms(),
            tips: planned.tips,
            per_tip: planned.per_tip,
            smallest: planned.smallest(played),
            smallest_rate: planned.smallest_rate(played),
            dots: played.dots(),
            measures,
        }
    }

    fn of(&self) -> Of {
        let rest = |trace: usize| rms(self.borrowed.rests.iter().flat_map(|r| &r[trace]));
        let hum = |trace: usize| {
            let lines = self.borrowed.hum.iter().map(|line| line.traces[trace][0]);
            lines.fold(0.0, f64::max)
        };
        Of {
            recordings: self
                .recordings
                .iter()
                .map(|r| r.name().to_owned())
                .collect(),
            rest_s: self.borrowed.rest_s,
            opens: self.borrowed.opens.len(),
            rate_hz: self.setup.rate_hz,
            voltage: self.setup.voltage,
            process: match self.setup.program.wave {
                Wave::Negative => "dc",
                Wave::Positive => "dcep",
                Wave::Pulse { .. } => "pulse",
                Wave::Ac { .. } => "ac",
            },
            run_a: self.setup.run_a,
            steps: self.borrowed.steps,
            noise: [rest(0), rest(1)],
            hum: [hum(0), hum(1)],
        }
    }
}

/// Tips of each prep and starts on each, as the sheet has them.
fn tips_of(rows: &[&StartRow]) -> (Option<u64>, Option<u64>) {
    let mut tips: std::collections::BTreeMap<(&str, &str), u64> = Default::default();
    for row in rows {
        if let Some(tip) = &row.tip_id {
            *tips.entry((&row.prep, tip)).or_default() += 1;
        }
    }
    let mut preps: std::collections::BTreeMap<&str, u64> = Default::default();
    tips.keys()
        .for_each(|(prep, _)| *preps.entry(prep).or_default() += 1);
    let starts: Vec<f64> = tips.values().map(|n| *n as f64).collect();
    (
        preps.values().min().copied(),
        stats::median(&starts).map(|n| n as u64),
    )
}

#[cfg(test)]
mod tests;
