//! Alternating current: half-cycles, share, frequency, reignition failures (docs/measures.md).

use super::robust;
use super::settings::Measuring;
use super::trace::Trace;
use super::tracker::{Run, Span};

/// One half-cycle between two sign changes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HalfCycle {
    /// Sign of the current.
    pub sign: i8,
    /// From one sign change to the next, frames.
    pub span: Span,
}

/// What is told of the alternating part of a window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Alternation {
    /// Frequency, cycles a frame.
    pub cycles_per_frame: f64,
    /// Share of time of the sign asked for, 0 to 1.
    pub share: f64,
    /// Half-cycles in which the arc did not reignite, dropouts not counted.
    pub missed: usize,
    /// Of these, half-cycles of the sign asked for.
    pub missed_of_sign: usize,
}

/// The half-cycles inside a window; one whose neighbour is missing is left out. A sign change stands where the straight
/// line from the end of one run (at the release level, `release` of the conduct level) to the begin of the next of the
/// other sign (at the conduct level) passes zero.
pub(crate) fn half_cycles(runs: &[Run], window: Span, period: f64, release: f64) -> Vec<HalfCycle> {
    let changes = sign_changes(runs, window, period, release);
    changes
        .windows(2)
        .filter(|w| w[0].1 != w[1].1 && w[1].0 - w[0].0 < period)
        .map(|w| HalfCycle {
            sign: w[0].1,
            span: Span {
                on: w[0].0,
                off: w[1].0,
            },
        })
        .collect()
}

/// (instant, sign after it) of every sign change.
fn sign_changes(runs: &[Run], window: Span, period: f64, release: f64) -> Vec<(f64, i8)> {
    let part = release / (1.0 + release);
    let zero = |a: Span, b: Span| a.off + part * (b.on - a.off);
    runs.windows(2)
        .filter(|w| w[0].sign != w[1].sign && w[1].span.on - w[0].span.off < 0.5 * period)
        .map(|w| (zero(w[0].span, w[1].span), w[1].sign))
        .filter(|(at, _)| *at >= window.on && *at <= window.off)
        .collect()
}

/// Frequency, share of the sign asked for, and missed half-cycles inside a window; `None` with less than two cycles.
pub(crate) fn alternation(
    runs: &[Run],
    window: Span,
    period: f64,
    sign: i8,
    trace: &Trace,
    measuring: &Measuring,
) -> Option<Alternation> {
    let release = measuring.conduct_release;
    let halves = half_cycles(runs, window, period, release);
    let mut cycles: Vec<f64> = Vec::new();
    let (mut of_sign, mut all) = (0.0, 0.0);
    for pair in halves
        .windows(2)
        .filter(|p| p[0].span.off == p[1].span.on && p[0].sign == sign)
    {
        cycles.push(pair[1].span.off - pair[0].span.on);
        let cycle = Span {
            on: pair[0].span.on,
            off: pair[1].span.off,
        };
        let inside = trace.range(cycle);
        // From the cycle's begin to its first sample the current has the sign, too.
        of_sign += trace.frame(inside.start as f64) - cycle.on;
        of_sign += intervals_of_sign(&trace.amps[inside], f64::from(sign));
        all += cycle.len();
    }
    if cycles.len() < 2 {
        return None;
    }
    let changes = sign_changes(runs, window, period, release);
    let whole = whole_cycles(&changes, sign)
        .unwrap_or_else(|| robust::median(&mut cycles).unwrap_or(period));
    let missed = missed(
        runs,
        window,
        &halves,
        measuring.dropout_min_halfcycles * 0.5 * period,
    );
    Some(Alternation {
        cycles_per_frame: 1.0 / whole,
        share: of_sign / all,
        missed: missed.len(),
        missed_of_sign: missed.iter().filter(|s| **s == sign).count(),
    })
}

/// Sample intervals in which the current has a sign, parted at straight-line zeros: noise about a slow crossing cancels,
/// where the first passage of a level would come early.
fn intervals_of_sign(amps: &[f64], sign: f64) -> f64 {
    amps.windows(2)
        .map(|w| {
            let (a, b) = (w[0] * sign, w[1] * sign);
            match (a > 0.0, b > 0.0) {
                (true, true) => 1.0,
                (false, false) => 0.0,
                (true, false) => a / (a - b),
                (false, true) => b / (b - a),
            }
        })
        .sum()
}

/// Sign of each half-cycle in which the arc did not reignite: two runs of one sign in a row whose pause is no dropout,
/// but longer than the noise about a slow zero crossing makes it.
fn missed(runs: &[Run], window: Span, halves: &[HalfCycle], dropout_min: f64) -> Vec<i8> {
    let shortest = |sign: i8| {
        let own = halves.iter().filter(|h| h.sign == sign);
        let mut lengths: Vec<f64> = own.map(|h| h.span.len()).collect();
        0.5 * robust::median(&mut lengths).unwrap_or(0.0)
    };
    let shortest = [shortest(-1), shortest(1)];
    let inside: Vec<&Run> = runs
        .iter()
        .filter(|r| r.span.on >= window.on && r.span.off <= window.off)
        .collect();
    inside
        .windows(2)
        .filter(|w| w[0].sign == w[1].sign)
        .filter(|w| {
            let pause = w[1].span.on - w[0].span.off;
            pause < dropout_min && pause > shortest[usize::from(w[0].sign < 0)]
        })
        .map(|w| -w[0].sign)
        .collect()
}

/// Mean period from the first to the last change into the sign: over many cycles the ends' noise divides out.
fn whole_cycles(changes: &[(f64, i8)], sign: i8) -> Option<f64> {
    let into: Vec<f64> = changes
        .iter()
        .filter(|c| c.1 == sign)
        .map(|c| c.0)
        .collect();
    let (first, last) = (into.first()?, into.last()?);
    let mut steps: Vec<f64> = into.windows(2).map(|w| w[1] - w[0]).collect();
    let typical = robust::median(&mut steps)?;
    let count = ((last - first) / typical).round();
    (count >= 1.0).then(|| (last - first) / count)
}
