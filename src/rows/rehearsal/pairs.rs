//! Made starts and what was measured of them, side by side.

use crate::demo::TruthStart;
use crate::measure::Measure;
use crate::rehearsal::draw::{Chunk, Special};
use crate::start::Start;

/// A made start and what was found of it.
#[derive(Debug, Clone)]
pub(crate) struct Pair {
    pub special: Special,
    pub truth: TruthStart,
    /// Found where one start, and no more, overlaps it.
    pub start: Option<Start>,
}

/// The pairs of a made recording, the starts that nobody made, and the rest in it, s.
#[derive(Debug, Default)]
pub(crate) struct Paired {
    pub pairs: Vec<Pair>,
    pub invented: usize,
    pub rest_s: f64,
}

/// A start without an end is taken to last as long, s.
const SHORT_S: f64 = 0.1;

fn span(open: Option<f64>, first: Option<f64>, out: Option<f64>, end_s: f64) -> (f64, f64) {
    let begin = open.or(first).unwrap_or(0.0);
    let end = match first {
        Some(_) => out.unwrap_or(end_s),
        None => begin + SHORT_S,
    };
    (begin, end.max(begin + 1e-3))
}

/// Finds each made start among the measured ones.
pub(crate) fn paired(chunk: &Chunk, starts: Vec<Start>) -> Paired {
    let end_s = chunk.made.amps.len() as f64 / chunk.made.rate_hz;
    let spans: Vec<(f64, f64)> = starts
        .iter()
        .map(|s| {
            let of = &s.instants;
            span(of.t_open_s, of.t_first_s, of.t_out_s, end_s)
        })
        .collect();
    let mut taken = vec![false; starts.len()];
    let mut paired = Paired {
        rest_s: end_s,
        ..Paired::default()
    };
    for (truth, special) in chunk.made.truth.iter().zip(&chunk.special) {
        let (on, off) = span(truth.t_open_s, truth.t_first_s, truth.t_out_s, end_s);
        paired.rest_s -= off - on;
        let over: Vec<usize> = (0..spans.len())
            .filter(|k| spans[*k].1.min(off) > spans[*k].0.max(on))
            .collect();
        over.iter().for_each(|k| taken[*k] = true);
        paired.pairs.push(Pair {
            special: *special,
            truth: truth.clone(),
            start: match over[..] {
                [one] => Some(starts[one].clone()),
                _ => None,
            },
        });
    }
    let nobodys = starts.iter().zip(taken).filter(|(_, taken)| !taken);
    paired.invented = nobodys.filter(|(s, _)| s.doubts.is_empty()).count();
    paired
}

impl Pair {
    /// Whether the start was found for what it is.
    pub fn found(&self) -> bool {
        let lit = self.truth.t_lit_s.is_some();
        self.start.as_ref().is_some_and(|s| s.lit() == lit)
    }

    /// Whether it was found and its reading is doubted.
    pub fn doubtful(&self) -> bool {
        self.start.as_ref().is_some_and(|s| !s.doubts.is_empty())
    }

    /// The start, where it counts in an answer.
    pub fn counted(&self) -> Option<&Start> {
        let start = self.start.as_ref().filter(|_| self.found());
        start.filter(|s| s.doubts.is_empty())
    }

    /// Whether figures are compared: a weak arc and one that never was speak for finding alone.
    pub fn compares(&self) -> bool {
        !matches!(self.special, Special::Weak | Special::NoLight)
    }

    /// True and measured value of a measure, of a start that counts.
    pub fn values(&self, measure: Measure) -> Option<(f64, f64)> {
        let start = self.counted()?;
        Some((truth(&self.truth, measure)?, start.measures.get(measure)?))
    }

    /// Whether truth, and what was measured, show what makes a start rough: a dropout or a second attempt.
    pub fn rough(&self) -> Option<(bool, bool)> {
        let m = &self.counted()?.measures;
        let measured = m.attempts.is_some_and(|n| n > 1.0) || m.dropouts.is_some_and(|n| n > 0.0);
        Some((self.truth.attempts > 1 || self.truth.dropouts > 0, measured))
    }
}

/// What is true of a measure.
pub(crate) fn truth(of: &TruthStart, measure: Measure) -> Option<f64> {
    let ms = |from: Option<f64>, to: Option<f64>| Some(1e3 * (to? - from?));
    match measure {
        Measure::DelayMs => ms(of.t_open_s, of.t_first_s),
        Measure::StutterMs => ms(of.t_first_s, of.t_lit_s),
        Measure::SettleMs => ms(of.t_lit_s, of.t_settled_s),
        Measure::StartMs => ms(of.t_open_s.or(of.t_first_s), of.t_settled_s),
        Measure::RunA => of.run_a,
        Measure::RunV => of.run_v,
        Measure::LitA => of.lit_a,
        Measure::WanderV => of.wander_v,
        // Starts without one would only dilute it.
        Measure::DropoutMs => (of.dropouts > 0).then_some(of.dropout_ms),
        Measure::EnSharePct => of.en_share_pct,
        Measure::Attempts => Some(of.attempts as f64),
        Measure::Dropouts => Some(of.dropouts as f64),
        Measure::MissedHalfcycles => of.missed_halfcycles.map(|n| n as f64),
        _ => None,
    }
}
