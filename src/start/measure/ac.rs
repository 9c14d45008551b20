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
/// line from the end of one run (at the release level, `release` of the conduct level) to the begin of the next of the
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

/// Sign of each half-cycle in which the arc did not reignite: two runs of one sign in a row whose pause is no dropout,
/// but longer than the noise about a slow zero crossing makes it.
fn missed(runs: &[ConductRun], window: Span, halves: &[HalfCycle], dropout_min: f64) -> Vec<i8> {
    let shortest = |sign: i8| {
        let own = halves.iter().filter(|h| h.sign == sign);
        let mut lengths: Vec<f64> = own.map(|h| h.span.len()).collect();
        // Where the arc never burns that way, its pauses are all there is.
        0.5 * order::median_in_place(&mut lengths).unwrap_or(dropout_min / 6.0)
    };
    let shortest = [shortest(-1), shortest(1)];
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
mod tests {
    use super::*;
    use crate::start::find::tracker::{Event, Tracker};

    fn run(sign: i8, on: f64, off: f64) -> ConductRun {
        ConductRun {
            sign,
            span: Span { on, off },
        }
    }

    const ALL: Span = Span { on: 0.0, off: 1e9 };

    /// Straight from −0.6 of the level to the whole of it, zero stands after 0.6/1.6 of the pause.
    #[test]
    fn a_half_cycle_goes_from_zero_to_zero_and_needs_both() {
        let runs = [
            run(1, 0.0, 9.0),
            run(-1, 11.0, 18.0),
            run(1, 22.0, 29.0),
            run(-1, 31.0, 37.0),
            // Half a period is too long a pause: this one is no neighbour.
            run(1, 47.0, 55.0),
            run(-1, 57.0, 60.0),
        ];
        let within = |on: f64, off: f64| half_cycles(&runs, Span { on, off }, 20.0, 0.6);
        let half = |sign: i8, on: f64, off: f64| HalfCycle {
            sign,
            span: Span { on, off },
        };
        let (first, second) = (half(-1, 9.75, 19.5), half(1, 19.5, 29.75));
        assert_eq!(within(0.0, 100.0), [first, second]);
        assert_eq!(within(9.75, 29.75), [first, second]);
        assert_eq!(within(10.0, 29.75), [second]);
        assert_eq!(within(9.75, 29.0), [first]);
        // Twice into one sign within a period, and a half-cycle that is longer than a period, are none.
        let twice = [
            run(1, 0.0, 9.0),
            run(-1, 11.0, 13.0),
            run(1, 23.0, 25.0),
            run(-1, 26.6, 27.0),
        ];
        assert_eq!(half_cycles(&twice, ALL, 20.0, 0.6), []);
        let long = [run(1, 0.0, 9.0), run(-1, 11.0, 34.0), run(1, 36.0, 40.0)];
        assert_eq!(half_cycles(&long, ALL, 20.0, 0.6), []);
        let period = [run(1, 0.0, 9.0), run(-1, 11.0, 29.0), run(1, 31.0, 40.0)];
        assert_eq!(half_cycles(&period, ALL, 20.0, 0.6), []);
    }

    /// `cycles` whole cycles of straight lines through (0, −50), (4, 100), (24, 100), (28, −50), (40, −50), with what stands
    /// before and after them.
    fn trapezoids(cycles: usize) -> Trace {
        let wave = |k: usize| match k % 40 {
            k @ 0..4 => -50.0 + 37.5 * k as f64,
            4..24 => 100.0,
            k @ 24..28 => 100.0 - 37.5 * (k - 24) as f64,
            _ => -50.0,
        };
        Trace {
            rate_hz: 4000.0,
            first: 7,
            amps: (20..40 * cycles + 50).map(wave).collect(),
            volts: Vec::new(),
        }
    }

    fn runs(trace: &Trace) -> Vec<ConductRun> {
        let mut tracker = Tracker::new(1.0, 0.6, 1);
        let frames = (trace.first..).zip(&trace.amps);
        let mut events: Vec<Event> = frames
            .flat_map(|(n, x)| tracker.push(n, *x))
            .flatten()
            .collect();
        let end = trace.frame(trace.amps.len() as f64);
        events.extend(tracker.end_at(end).map(Event::Off));
        let told = events.iter().filter_map(|e| match e {
            Event::Off(run) => Some(*run),
            Event::On(_) => None,
        });
        told.collect()
    }

    /// Up through zero a third of a cycle's 4-sample slope, down through it two thirds: 25⅓ of 40 samples lie over zero.
    #[test]
    fn share_and_frequency_of_straight_lines_are_exact() {
        let near = |seen: f64, expected: f64| {
            assert!((seen - expected).abs() < 1e-9, "{seen} is not {expected}");
        };
        let told = |cycles: usize, sign: i8| {
            let trace = trapezoids(cycles);
            alternation(
                &runs(&trace),
                ALL,
                40.0,
                sign,
                &trace,
                &Measuring::default(),
            )
        };
        for cycles in [2, 9] {
            let over = told(cycles, 1).unwrap();
            near(over.share, (25.0 + 1.0 / 3.0) / 40.0);
            near(over.cycles_per_frame, 1.0 / 40.0);
            assert_eq!((over.missed, over.missed_of_sign), (0, 0));
        }
        near(told(9, -1).unwrap().share, (14.0 + 2.0 / 3.0) / 40.0);
        assert_eq!(told(1, 1), None);
    }

    /// One and a half half-cycles of 20 samples are a dropout: without one run the pause is 14 samples long, without three
    /// runs 54.
    #[test]
    fn a_missed_half_cycle_is_told_of_its_sign_and_a_dropout_is_none() {
        let trace = trapezoids(12);
        let told = |left_out: std::ops::Range<usize>, sign: i8| {
            let mut runs = runs(&trace);
            runs.drain(left_out);
            let told = alternation(&runs, ALL, 40.0, sign, &trace, &Measuring::default());
            told.map(|t| (t.missed, t.missed_of_sign))
        };
        // The runs begin with a positive one.
        assert_eq!(
            (told(9..10, 1), told(9..10, -1)),
            (Some((1, 0)), Some((1, 1)))
        );
        assert_eq!(told(9..12, -1), Some((0, 0)));
        // The run after the missing one 20 samples later: a pause of 34.
        let mut late = runs(&trace);
        late.remove(9);
        late[9].span.on += 20.0;
        let told = alternation(&late, ALL, 40.0, 1, &trace, &Measuring::default());
        assert_eq!(told.map(|t| t.missed), Some(0));
    }

    /// Straight from −1 to 3 three quarters of the interval lie over zero; of nothing but zeros, nothing.
    #[test]
    fn an_interval_is_parted_at_its_straight_line_zero() {
        let trace = [-1.0, 3.0, 2.0, -6.0, -1.0];
        assert_eq!(intervals_of_sign(&trace, 1.0), 0.75 + 1.0 + 0.25);
        assert_eq!(intervals_of_sign(&trace, -1.0), 0.25 + 0.75 + 1.0);
        assert_eq!(intervals_of_sign(&[0.0, 0.0, 2.0], 1.0), 1.0);
    }

    #[test]
    fn a_frequency_is_that_of_whole_periods_from_the_first_to_the_last_change_into_the_sign() {
        let changes = [(0.0, -1), (3.0, 1), (10.0, -1), (16.0, 1), (22.0, -1)];
        assert_eq!(whole_cycles(&changes, -1, 11.0), Some(11.0));
        assert_eq!(whole_cycles(&changes, 1, 13.0), Some(13.0));
        // One change was missed: four periods all the same.
        let missed = [0.0, 10.0, 20.0, 40.0].map(|at| (at, 1));
        assert_eq!(whole_cycles(&missed, 1, 10.0), Some(10.0));
        assert_eq!(whole_cycles(&changes[..2], 1, 13.0), None);
    }

    /// Positive for 80 of 100 frames. A pause of a sign is a missed half-cycle of the other one from half of *its* length on,
    /// 10 and 40 frames, and a dropout from 150 frames on.
    #[test]
    fn a_missed_half_cycle_is_a_pause_of_more_than_half_its_length() {
        const NONE: [i8; 0] = [];
        let missed_within = |window: Span, change: &dyn Fn(&mut Vec<ConductRun>)| {
            let mut all: Vec<ConductRun> = (0..20)
                .map(|k| 100.0 * f64::from(k))
                .flat_map(|t| [run(1, t + 1.0, t + 79.0), run(-1, t + 81.0, t + 99.0)])
                .collect();
            let halves = half_cycles(&all, ALL, 100.0, 0.6);
            change(&mut all);
            missed(&all, window, &halves, 150.0)
        };
        let missed_in = |change: &dyn Fn(&mut Vec<ConductRun>)| missed_within(ALL, change);
        let without = |from: f64, to: f64| {
            move |all: &mut Vec<ConductRun>| all.retain(|r| !(from..to).contains(&r.span.on))
        };
        let paused = |k: usize, off: f64, on: f64| {
            move |all: &mut Vec<ConductRun>| {
                let whole = all[k];
                all[k].span.off = off;
                all.insert(k + 1, run(whole.sign, on, whole.span.off));
            }
        };
        assert_eq!(missed_in(&|_| {}), NONE);
        assert_eq!(missed_in(&without(580.0, 590.0)), [-1]);
        assert_eq!(missed_in(&without(600.0, 610.0)), [1]);
        assert_eq!(missed_in(&without(600.0, 750.0)), NONE);
        assert_eq!(missed_in(&paused(4, 220.0, 229.0)), NONE);
        assert_eq!(missed_in(&paused(4, 220.0, 230.0)), NONE);
        assert_eq!(missed_in(&paused(4, 220.0, 231.0)), [-1]);
        assert_eq!(missed_in(&paused(5, 283.0, 296.0)), NONE);
        let pause = |on: f64| missed(&[run(1, 0.0, 10.0), run(1, on, 170.0)], ALL, &[], 150.0);
        assert_eq!((pause(159.0), pause(160.0)), (vec![-1], vec![]));
        let span = |on: f64, off: f64| Span { on, off };
        // The pause from 579 to 601 lies inside or not.
        let one = |window: Span| missed_within(window, &without(580.0, 590.0));
        assert_eq!(one(span(579.0, 601.0)), [-1]);
        assert_eq!(one(span(580.0, 900.0)), NONE);
        assert_eq!(one(span(0.0, 600.0)), NONE);
    }
}
