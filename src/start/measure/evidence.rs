//! What wander is measured from: block means on DC, one value a half-cycle on AC.

use crate::start::find::phases::Phases;
use crate::start::find::tracker::{ConductRun, Span};
use crate::start::measure::ac::Alternation;
use crate::start::measure::gaps;
use crate::start::measure::wander::{Even, Evidence, Slope, unexplained};
use crate::start::trace::Trace;
use crate::stats::order;

/// Values a second in multiples of the band's end: block means of this rate lose under 0.5 % at the band's end.
const RATE_PER_BAND: f64 = 20.0;
/// Left out to either side of a dropout or a touch, s.
pub(crate) const BRIDGE_S: f64 = 0.005;
/// Part of a half-cycle, in its middle, that its value is the mean of.
const MIDDLE: f64 = 0.6;
/// A half-cycle of fewer samples than this in its middle has no value.
const MIN_MIDDLE: usize = 3;

/// An even trace of the voltage residual with the current beside it.
pub(crate) struct Residual {
    pub even: Even,
    /// (current magnitude, voltage magnitude, residual) of each value before evening out.
    pub scatter: Vec<[f32; 3]>,
}

/// DC: means of short blocks. `noise`: of one sample of the voltage, V rms.
pub(crate) fn direct(
    trace: &Trace,
    phases: &Phases,
    window: Span,
    to_hz: f64,
    noise: f64,
) -> Option<Residual> {
    let block = ((trace.rate_hz / (RATE_PER_BAND * to_hz)) as usize).max(1);
    let lit = phases.lit?;
    let range = trace.range(window);
    // The magnitude of the voltage counts, whichever way round the leads are: a longer arc has more of it.
    let sign = 1.0_f64.copysign(trace.volts[range.clone()].iter().sum());
    let mut evidence = Evidence::default();
    for from in range
        .clone()
        .step_by(block)
        .filter(|from| from + block <= range.end)
    {
        let mean = |x: &[f64]| x[from..from + block].iter().sum::<f64>() / block as f64;
        let at = trace.frame(from as f64 + 0.5 * (block - 1) as f64);
        evidence.push(
            (at - lit) / trace.rate_hz,
            sign * mean(&trace.volts),
            mean(&trace.amps),
            disturbed(phases, at, trace.rate_hz),
        );
    }
    let mut values = unexplained(&evidence, Slope::Whole)?;
    let scatter = scatter(&evidence, &values);
    let missing = gaps::fill(&mut values, &evidence.left_out);
    Some(Residual {
        even: Even {
            rate_hz: trace.rate_hz / block as f64,
            values,
            noise: noise / (block as f64).sqrt(),
            missing,
        },
        scatter,
    })
}

/// The current's magnitude about its straight-line trend: block means on DC, means over whole cycles on AC. `noise`: of one
/// sample of the current, A rms.
pub(crate) fn current(
    trace: &Trace,
    alternation: Option<Alternation>,
    window: Span,
    to_hz: f64,
    noise: f64,
) -> Option<Even> {
    let rate = trace.rate_hz;
    let block = match alternation {
        Some(seen) => (1.0 / seen.cycles_per_frame).round() as usize,
        None => (rate / (RATE_PER_BAND * to_hz)) as usize,
    }
    .max(1);
    let mut means = trace.mean_amps(window, block);
    let n = means.len() as f64;
    let (mid, mean) = (0.5 * (n - 1.0), means.iter().sum::<f64>() / n);
    let spread: f64 = (0..means.len()).map(|k| (k as f64 - mid).powi(2)).sum();
    let slope = means
        .iter()
        .enumerate()
        .map(|(k, x)| (k as f64 - mid) * x)
        .sum::<f64>()
        / spread;
    for (k, x) in means.iter_mut().enumerate() {
        *x -= mean + slope * (k as f64 - mid);
    }
    (means.len() > 2).then_some(Even {
        rate_hz: rate / block as f64,
        values: means,
        noise: noise / (block as f64).sqrt(),
        missing: 0.0,
    })
}

/// AC: each half-wave's mean from an instant on, explained within its polarity, then evened out to two values a cycle.
/// `noise` as above. `None` where the current of a polarity has no steps to tell it by.
pub(crate) fn alternating(
    trace: &Trace,
    phases: &Phases,
    waves: &[ConductRun],
    (from, by): (f64, Slope),
    ac_hz: f64,
    noise: f64,
) -> Option<Residual> {
    let (mut points, mut scatter, mut averaged) = (Vec::new(), Vec::new(), Vec::new());
    for sign in [1, -1] {
        let halves = waves.iter().filter(|w| w.sign == sign && w.span.on >= from);
        let evidence = half_waves(trace, phases, halves, &mut averaged)?;
        if let Some(volts) = unexplained(&evidence, by) {
            points.extend(upright(&evidence, &volts));
            scatter.extend(self::scatter(&evidence, &volts));
        } else if by == Slope::Steps {
            return None;
        }
    }
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let rate_hz = 2.0 * ac_hz;
    let (mut values, left_out) = evened(&points, rate_hz)?;
    let even = Even {
        rate_hz,
        missing: gaps::fill(&mut values, &left_out),
        values,
        noise: noise / order::median_in_place(&mut averaged)?.sqrt(),
    };
    Some(Residual { even, scatter })
}

/// The middle of each half-wave of one sign; how many samples each is the mean of is added to `averaged`.
fn half_waves<'a>(
    trace: &Trace,
    phases: &Phases,
    halves: impl Iterator<Item = &'a ConductRun>,
    averaged: &mut Vec<f64>,
) -> Option<Evidence> {
    let lit = phases.lit?;
    let mut evidence = Evidence::default();
    for half in halves {
        let edge = 0.5 * (1.0 - MIDDLE) * half.span.len();
        let middle = trace.range(Span {
            on: half.span.on + edge,
            off: half.span.off - edge,
        });
        if middle.len() < MIN_MIDDLE {
            continue;
        }
        averaged.push(middle.len() as f64);
        let mean = |x: &[f64]| x[middle.clone()].iter().sum::<f64>() / middle.len() as f64;
        let at = 0.5 * (half.span.on + half.span.off);
        evidence.push(
            (at - lit) / trace.rate_hz,
            mean(&trace.volts),
            mean(&trace.amps),
            disturbed(phases, at, trace.rate_hz),
        );
    }
    Some(evidence)
}

/// What counts, as (time, residual): a residual of the negative half-cycle has the negative arc's sign, where a longer arc
/// has more magnitude.
fn upright<'a>(evidence: &'a Evidence, volts: &'a [f64]) -> impl Iterator<Item = (f64, f64)> + 'a {
    let sign = evidence.volts.iter().sum::<f64>().signum();
    let times = evidence.after_lit_s.iter().zip(&evidence.left_out);
    let both = times.zip(volts).filter(|((_, out), _)| !**out);
    both.map(move |((t, _), v)| (*t, v * sign))
}

fn disturbed(phases: &Phases, at: f64, rate_hz: f64) -> bool {
    let reach = BRIDGE_S * rate_hz;
    phases
        .dropouts
        .iter()
        .chain(&phases.touches)
        .any(|s| at > s.on - reach && at < s.off + reach)
}

fn scatter(evidence: &Evidence, residual: &[f64]) -> Vec<[f32; 3]> {
    (0..residual.len())
        .filter(|k| !evidence.left_out[*k])
        .map(|k| {
            [
                evidence.amps[k].abs() as f32,
                evidence.volts[k].abs() as f32,
                residual[k] as f32,
            ]
        })
        .collect()
}

/// Straight-line interpolation of rising (time, value) points onto an even grid, and which of its places lie where points are
/// missing.
fn evened(points: &[(f64, f64)], rate_hz: f64) -> Option<(Vec<f64>, Vec<bool>)> {
    /// Points farther apart than this many steps of the grid have one missing between them.
    const APART: f64 = 1.5;
    let (first, last) = (points.first()?.0, points.last()?.0);
    let mut next = 1;
    (0..=((last - first) * rate_hz) as usize)
        .map(|k| {
            let t = first + k as f64 / rate_hz;
            while next + 1 < points.len() && points[next].0 < t {
                next += 1;
            }
            let ((t0, a), (t1, b)) = (*points.get(next - 1)?, *points.get(next)?);
            let value = a + (b - a) * ((t - t0) / (t1 - t0)).clamp(0.0, 1.0);
            let near = (t - t0).min(t1 - t) * rate_hz < 0.1;
            Some((value, (t1 - t0) * rate_hz > APART && !near))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uneven_points_are_evened_out_on_straight_lines() {
        let points = [(0.0, 1.0), (0.1, 2.0), (0.4, 8.0), (0.5, 7.0)];
        let (seen, out) = evened(&points, 10.0).unwrap();
        assert_eq!(out, [false, false, true, true, false, false]);
        for (seen, expected) in seen.iter().zip([1.0, 2.0, 4.0, 6.0, 8.0, 7.0]) {
            assert!((seen - expected).abs() < 1e-9, "{seen} is not {expected}");
        }
        assert_eq!(seen.len(), 6);
        // Up to a tenth of a step beside a point is near enough.
        let wide = [0.0, 0.095, 0.405, 0.5].map(|t| (3.0 + t, 1.0));
        let (_, out) = evened(&wide, 10.0).unwrap();
        assert_eq!(out, [false, false, true, true, false, false]);
        let close = [0.0, 0.13, 0.2, 0.31].map(|t| (3.0 + t, 1.0));
        let (_, out) = evened(&close, 10.0).unwrap();
        assert_eq!(out, [false; 4], "no point is missing in 1.3 steps");
        let apart = [0.0, 0.1875, 0.25, 0.375].map(|t| (t, 1.0));
        let (_, out) = evened(&apart, 8.0).unwrap();
        assert_eq!(out, [false; 4], "nor in one and a half");
        assert_eq!(evened(&points[..1], 10.0), None);
        assert_eq!(evened(&[], 10.0), None);
    }

    /// A second at 1000 samples, from frame 100 on; amps and volts by the frame.
    fn trace(amps: impl Fn(f64) -> f64, volts: impl Fn(f64) -> f64) -> Trace {
        let at = |f: &dyn Fn(f64) -> f64| (100..1100).map(|n| f(f64::from(n))).collect();
        Trace {
            rate_hz: 1000.0,
            first: 100,
            amps: at(&amps),
            volts: at(&volts),
        }
    }

    fn phases(dropouts: &[(f64, f64)], touches: &[(f64, f64)]) -> Phases {
        let spans = |ends: &[(f64, f64)]| ends.iter().map(|&(on, off)| Span { on, off }).collect();
        let group = crate::start::find::phases::EventGroup {
            runs: vec![wave(1, 150.0, 1100.0)],
            last_off: 1100.0,
            ..Default::default()
        };
        Phases {
            dropouts: spans(dropouts),
            touches: spans(touches),
            ..group.phases(&Default::default(), 1000.0)
        }
    }

    fn wave(sign: i8, on: f64, off: f64) -> ConductRun {
        ConductRun {
            sign,
            span: Span { on, off },
        }
    }

    /// 5 ms to either side are 5 frames; their end itself is not disturbed.
    #[test]
    fn what_lies_within_five_milliseconds_of_a_dropout_or_a_touch_is_disturbed() {
        for phases in [
            phases(&[(300.0, 310.0)], &[]),
            phases(&[], &[(300.0, 310.0)]),
        ] {
            let seen = [295.0, 295.1, 305.0, 314.9, 315.0].map(|at| disturbed(&phases, at, 1000.0));
            assert_eq!(seen, [false, true, true, true, false]);
        }
    }

    /// Half-waves of 10 frames: their middle 60 % are the samples from the third to the eighth, told at the half-wave's middle.
    #[test]
    fn the_value_of_a_half_wave_is_the_mean_of_its_middle() {
        let trace = trace(|n| n, |n| 3.0 * n);
        let halves = [
            wave(1, 200.0, 210.0),
            // 0.6 of 4 frames: three samples, and of 3 frames: two, which are too few.
            wave(1, 299.0, 303.0),
            wave(1, 400.0, 403.0),
        ];
        let mut averaged = vec![];
        let phases = phases(&[(310.0, 311.0)], &[]);
        let seen = half_waves(&trace, &phases, halves.iter(), &mut averaged).unwrap();
        assert_eq!(averaged, [6.0, 3.0]);
        assert_eq!(
            (seen.amps, seen.volts),
            (vec![204.5, 301.0], vec![613.5, 903.0])
        );
        for (seen, frame) in seen.after_lit_s.iter().zip([205.0, 301.0]) {
            let expected = 1e-3 * (frame - 150.0);
            assert!((seen - expected).abs() < 1e-12, "{seen} is not {expected}");
        }
        assert_eq!(seen.left_out, [false, false]);
    }

    /// Blocks of five at 1000 samples a second and a band to 10 Hz; the block about frame 395 lies 5.4 frames before the dropout,
    /// the next one is left out; behind it the first that counts is about frame 415.
    #[test]
    fn on_direct_current_blocks_near_a_dropout_do_not_count() {
        let volts = |n: f64| -12.0 - (n * 0.02).sin();
        let trace = trace(|_| -80.0, volts);
        let window = Span {
            on: 198.0,
            off: 1000.0,
        };
        let phases = phases(&[(400.4, 409.6)], &[]);
        let residual = direct(&trace, &phases, window, 10.0, 0.2).unwrap();
        assert_eq!(residual.even.rate_hz, 200.0);
        // 802 frames are 160 whole blocks.
        assert_eq!(residual.even.values.len(), 160);
        assert!((residual.even.noise - 0.2 / 5.0_f64.sqrt()).abs() < 1e-12);
        assert_eq!(residual.scatter.len(), 157);
        // More magnitude of a negative voltage is a longer arc.
        let longer = |k: usize| ((200.0 + 5.0 * k as f64) * 0.02).sin();
        let values = residual.even.values.iter().enumerate();
        let alike: f64 = values.map(|(k, value)| value * longer(k)).sum();
        let whole: f64 = (0..160).map(|k| longer(k).powi(2)).sum();
        assert!(alike > 0.8 * whole, "{alike} of {whole}");
        assert!(residual.scatter.iter().all(|p| p[0] == 80.0 && p[1] > 10.9));
    }

    /// Blocks of five at 1000 samples a second and a band to 10 Hz, of whole cycles on AC: a straight line leaves nothing of itself.
    #[test]
    fn the_current_about_its_trend_is_told_in_blocks_or_cycles() {
        let trace = trace(|n| -40.0 - 0.02 * n, |_| 12.0);
        let window = |off: f64| Span { on: 198.0, off };
        let direct = current(&trace, None, window(1000.0), 10.0, 0.5).unwrap();
        assert_eq!((direct.rate_hz, direct.values.len()), (200.0, 160));
        assert!((direct.noise - 0.5 / 5.0_f64.sqrt()).abs() < 1e-12);
        assert!(direct.values.iter().all(|x| x.abs() < 1e-9));
        let cycles = Alternation {
            cycles_per_frame: 1.0 / 19.8,
            share: 0.5,
            missed: 0,
            missed_of_sign: 0,
        };
        let cycles = current(&trace, Some(cycles), window(1000.0), 10.0, 0.5).unwrap();
        assert_eq!((cycles.rate_hz, cycles.values.len()), (50.0, 40));
        // Two blocks have no trend that anything could be told about.
        assert!(current(&trace, None, window(209.0), 10.0, 0.5).is_none());
        assert!(current(&trace, None, window(213.0), 10.0, 0.5).is_some());
    }

    /// Half-waves of 10 frames at 50 Hz: two values a cycle, each the mean of six samples; those before the instant asked for do
    /// not count.
    #[test]
    fn on_alternating_current_there_are_two_values_a_cycle() {
        let sign = |n: f64| {
            if ((n / 10.0) as usize).is_multiple_of(2) {
                1.0
            } else {
                -1.0
            }
        };
        let longer = |n: f64| (n * 0.02).sin();
        let trace = trace(|n| 90.0 * sign(n), |n| sign(n) * (12.0 + longer(n)));
        let waves: Vec<ConductRun> = (20..100)
            .map(|k| 10.0 * f64::from(k))
            .map(|on| wave(sign(on) as i8, on, on + 10.0))
            .collect();
        let residual = alternating(
            &trace,
            &phases(&[], &[]),
            &waves,
            (300.0, Slope::Whole),
            50.0,
            0.6,
        )
        .unwrap();
        assert_eq!(residual.even.rate_hz, 100.0);
        assert_eq!(
            (residual.even.values.len(), residual.scatter.len()),
            (70, 70)
        );
        assert!((residual.even.noise - 0.6 / 6.0_f64.sqrt()).abs() < 1e-12);
        let values = residual.even.values.iter().enumerate();
        let expected = |k: usize| longer(305.0 + 10.0 * k as f64);
        let alike: f64 = values.map(|(k, value)| value * expected(k)).sum();
        let whole: f64 = (0..70).map(|k| expected(k).powi(2)).sum();
        assert!(alike > 0.8 * whole, "{alike} of {whole}");
    }
}
