//! Alternating current: half-cycles, share, frequency, reignition failures (docs/measures.md).

use crate::job::measuring::Measuring;
use crate::start::find::tracker::{ConductRun, Span};
use crate::start::period::period_of;
use crate::start::trace::Trace;
use crate::stats::order;

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
/// line from the end of one run (at the release level, `release` of the conduct level) to the beginning of the next of the
/// other sign (at the conduct level) passes zero.
pub(crate) fn half_cycles(
    runs: &[ConductRun],
    window: Span,
    period: f64,
    release: f64,
) -> Vec<HalfCycle> {
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
fn sign_changes(runs: &[ConductRun], window: Span, period: f64, release: f64) -> Vec<(f64, i8)> {
    runs.windows(2)
        .filter(|w| changes(w, period))
        .map(|w| (zero(w, release), w[1].sign))
        .filter(|(at, _)| *at >= window.on && *at <= window.off)
        .collect()
}

/// Whether the second of two runs is the next half-wave.
fn changes(pair: &[ConductRun], period: f64) -> bool {
    pair[0].sign != pair[1].sign && pair[1].span.on - pair[0].span.off < 0.5 * period
}

/// Where the current passes zero between two half-waves.
fn zero(pair: &[ConductRun], release: f64) -> f64 {
    let (from, to) = (pair[0].span.off, pair[1].span.on);
    from + release / (1.0 + release) * (to - from)
}

/// The half-cycles with those in which no arc burned, and what dropouts take, one behind the other; nothing where there are none of these.
pub(crate) fn unbroken(
    runs: &[ConductRun],
    window: Span,
    period: f64,
    halves: &[HalfCycle],
    measuring: &Measuring,
) -> Vec<HalfCycle> {
    let shortest = shortest_pauses(halves, measuring.dropout_min_halfcycles * 0.5 * period);
    let (mut row, mut on, mut gaps) = (Vec::new(), f64::NEG_INFINITY, 0);
    let mut push = |sign: i8, on: f64, off: f64| {
        if on >= window.on && off <= window.off {
            row.push(HalfCycle {
                sign,
                span: Span { on, off },
            });
        }
    };
    for pair in runs.windows(2) {
        let (last, next) = (pair[0], pair[1]);
        let pause = next.span.on - last.span.off;
        if changes(pair, period) {
            let at = zero(pair, measuring.conduct_release);
            push(last.sign, on, at);
            on = at;
        } else if last.sign != next.sign || pause > shortest[usize::from(last.sign < 0)] {
            push(last.sign, on, last.span.off);
            push(-last.sign, last.span.off, next.span.on);
            on = next.span.on;
            gaps += usize::from(last.span.off >= window.on && on <= window.off);
        }
    }
    if gaps == 0 { Vec::new() } else { row }
}

/// Frequency, share of the sign asked for, and missed half-cycles inside a window; `None` with less than two cycles.
pub(crate) fn alternation(
    runs: &[ConductRun],
    window: Span,
    period: f64,
    sign: i8,
    trace: &Trace,
    measuring: &Measuring,
) -> Option<Alternation> {
    let release = measuring.conduct_release;
    let halves = half_cycles(runs, window, period, release);
    let (mut cycles, mut of_sign, mut all) = (0, 0.0, 0.0);
    for pair in halves
        .windows(2)
        .filter(|p| p[0].span.off == p[1].span.on && p[0].sign == sign)
    {
        cycles += 1;
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
    let missed = missed(
        runs,
        window,
        &halves,
        measuring.dropout_min_halfcycles * 0.5 * period,
    );
    let (whole, share) = match cycles {
        0 | 1 => one_sided(runs, window, period, sign)?,
        _ => {
            let changes = sign_changes(runs, window, period, release);
            (whole_cycles(&changes, sign, period)?, of_sign / all)
        }
    };
    Some(Alternation {
        cycles_per_frame: 1.0 / whole,
        share,
        missed: missed.len(),
        missed_of_sign: missed.iter().filter(|s| **s == sign).count(),
    })
}

/// An arc that burns one way this many times as often as the other, or less, hardly ever burns that way: one that misses
/// every other half-cycle does half as often.
const HARDLY: f64 = 0.6;

/// Period, and share of the sign asked for, of an arc that hardly ever burns the other way.
fn one_sided(runs: &[ConductRun], window: Span, period: f64, sign: i8) -> Option<(f64, f64)> {
    let inside = |r: &&ConductRun| {
        r.span.on >= window.on && r.span.off <= window.off && r.span.len() < period
    };
    let of = |sign: i8| runs.iter().filter(inside).filter(move |r| r.sign == sign);
    let burns = if of(1).count() >= of(-1).count() {
        1
    } else {
        -1
    };
    let begins: Vec<f64> = of(burns).map(|r| r.span.on).collect();
    let hardly = of(-burns).count() as f64 <= HARDLY * begins.len() as f64;
    if begins.len() < 3 || !hardly {
        return None;
    }
    let whole = period_of(&begins, period)?;
    let mut lengths: Vec<f64> = of(burns).map(|r| r.span.len()).collect();
    let part = order::median_in_place(&mut lengths)? / whole;
    Some((whole, if burns == sign { part } else { 1.0 - part }))
}

/// Half-waves of one sign, and the pauses between them as half-cycles of the other: an arc that never reignites that way.
pub(crate) fn half_waves_and_pauses(
    runs: &[ConductRun],
    window: Span,
    period: f64,
) -> Vec<HalfCycle> {
    let half = |sign: i8, on: f64, off: f64| HalfCycle {
        sign,
        span: Span { on, off },
    };
    runs.windows(2)
        .filter(|w| w[0].sign == w[1].sign && w[1].span.on - w[0].span.on < 1.5 * period)
        .filter(|w| w[0].span.on >= window.on && w[1].span.on <= window.off)
        .flat_map(|w| {
            [
                half(w[0].sign, w[0].span.on, w[0].span.off),
                half(-w[0].sign, w[0].span.off, w[1].span.on),
            ]
        })
        .collect()
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

/// Behind a run of either sign, positive first, a pause up to this is noise about a slow zero crossing.
fn shortest_pauses(halves: &[HalfCycle], dropout_min: f64) -> [f64; 2] {
    let shortest = |sign: i8| {
        let own = halves.iter().filter(|h| h.sign == sign);
        let mut lengths: Vec<f64> = own.map(|h| h.span.len()).collect();
        // Where the arc never burns that way, its pauses are all there is.
        0.5 * order::median_in_place(&mut lengths).unwrap_or(dropout_min / 6.0)
    };
    [shortest(-1), shortest(1)]
}

/// Sign of each half-cycle in which the arc did not reignite: two runs of one sign in a row whose pause is no dropout,
/// but longer than the noise about a slow zero crossing makes it.
fn missed(runs: &[ConductRun], window: Span, halves: &[HalfCycle], dropout_min: f64) -> Vec<i8> {
    let shortest = shortest_pauses(halves, dropout_min);
    runs.windows(2)
        .filter(|w| w[0].span.off >= window.on && w[1].span.on <= window.off)
        .filter(|w| w[0].sign == w[1].sign)
        .filter(|w| {
            let pause = w[1].span.on - w[0].span.off;
            pause < dropout_min && pause > shortest[usize::from(w[0].sign < 0)]
        })
        .map(|w| -w[0].sign)
        .collect()
}

/// Mean period by all changes into the sign, where it is about `period`.
fn whole_cycles(changes: &[(f64, i8)], sign: i8, period: f64) -> Option<f64> {
    let into: Vec<f64> = changes
        .iter()
        .filter(|c| c.1 == sign)
        .map(|c| c.0)
        .collect();
    period_of(&into, period)
}

#[cfg(test)]
mod tests;
