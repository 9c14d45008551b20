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
            mean(&trace.volts),
            mean(&trace.amps),
            disturbed(phases, at, trace.rate_hz),
        );
    }
    // The magnitude of the voltage counts, whichever way round the leads are: a longer arc has more of it.
    if evidence.volts.iter().sum::<f64>() < 0.0 {
        evidence.volts.iter_mut().for_each(|v| *v = -*v);
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
mod tests;
