//! What wander is measured from: block means on DC, one value a half-cycle on AC.

use super::anatomy::Anatomy;
use super::robust;
use super::trace::Trace;
use super::tracker::{Run, Span};
use super::wander::{Even, Evidence, residual};

/// Values a second in multiples of the band's end: block means of this rate lose under 0.5 % at the band's end.
const RATE_PER_BAND: f64 = 20.0;
/// Left out to either side of a dropout or a touch, s.
const BRIDGE_S: f64 = 0.005;
/// Part of a half-cycle, in its middle, that its value is the mean of.
const MIDDLE: f64 = 0.6;
/// A half-cycle of fewer samples than this in its middle has no value.
const MIN_MIDDLE: usize = 3;

/// An even trace of the voltage residual with the current beside it.
pub(crate) struct Residual {
    pub even: Even,
    /// (current magnitude, voltage magnitude, residual) of each value before evening out.
    pub cloud: Vec<[f32; 3]>,
}

/// DC: means of short blocks. `noise`: of one sample of the voltage, V rms.
pub(crate) fn direct(
    trace: &Trace,
    anatomy: &Anatomy,
    window: Span,
    to_hz: f64,
    noise: f64,
) -> Option<Residual> {
    let block = ((trace.rate_hz / (RATE_PER_BAND * to_hz)) as usize).max(1);
    let lit = anatomy.lit?;
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
            disturbed(anatomy, at, trace.rate_hz),
        );
    }
    let volts = residual(&evidence)?;
    let (cloud, count) = (cloud(&evidence, &volts), volts.len().max(1));
    Some(Residual {
        even: Even {
            rate_hz: trace.rate_hz / block as f64,
            values: volts,
            noise: noise / (block as f64).sqrt(),
            bridged: 1.0 - cloud.len() as f64 / count as f64,
        },
        cloud,
    })
}

/// AC: each half-wave's mean from an instant on, explained within its polarity, then evened out to two values a cycle.
/// `noise` as above.
pub(crate) fn alternating(
    trace: &Trace,
    anatomy: &Anatomy,
    waves: &[Run],
    from: f64,
    ac_hz: f64,
    noise: f64,
) -> Option<Residual> {
    let lit = anatomy.lit?;
    let mut points: Vec<(f64, f64)> = Vec::new();
    let mut seen = Vec::new();
    let mut averaged = Vec::new();
    for sign in [1, -1] {
        let mut evidence = Evidence::default();
        for half in waves.iter().filter(|w| w.sign == sign && w.span.on >= from) {
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
                disturbed(anatomy, at, trace.rate_hz),
            );
        }
        if let Some(volts) = residual(&evidence) {
            // A residual of the negative half-cycle has the negative arc's sign: longer arc, more magnitude.
            let upright = if evidence.volts.iter().sum::<f64>() < 0.0 {
                -1.0
            } else {
                1.0
            };
            points.extend(
                evidence
                    .after_lit_s
                    .iter()
                    .zip(&volts)
                    .map(|(t, v)| (*t, v * upright)),
            );
            seen.extend(cloud(&evidence, &volts));
        }
    }
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    let noise = noise / robust::median(&mut averaged)?.sqrt();
    let rate_hz = 2.0 * ac_hz;
    let values = evened(&points, rate_hz)?;
    let even = Even {
        rate_hz,
        bridged: (1.0 - seen.len() as f64 / values.len() as f64).max(0.0),
        values,
        noise,
    };
    Some(Residual { even, cloud: seen })
}

fn disturbed(anatomy: &Anatomy, at: f64, rate_hz: f64) -> bool {
    let reach = BRIDGE_S * rate_hz;
    anatomy
        .dropouts
        .iter()
        .chain(&anatomy.touches)
        .any(|s| at > s.on - reach && at < s.off + reach)
}

fn cloud(evidence: &Evidence, residual: &[f64]) -> Vec<[f32; 3]> {
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

/// Straight-line interpolation of rising (time, value) points onto an even grid.
fn evened(points: &[(f64, f64)], rate_hz: f64) -> Option<Vec<f64>> {
    let (first, last) = (points.first()?.0, points.last()?.0);
    let mut next = 1;
    (0..=((last - first) * rate_hz) as usize)
        .map(|k| {
            let t = first + k as f64 / rate_hz;
            while next + 1 < points.len() && points[next].0 < t {
                next += 1;
            }
            let ((t0, a), (t1, b)) = (*points.get(next - 1)?, *points.get(next)?);
            Some(a + (b - a) * ((t - t0) / (t1 - t0)).clamp(0.0, 1.0))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uneven_points_are_evened_out_on_straight_lines() {
        let points = [(0.0, 1.0), (0.1, 2.0), (0.4, 8.0), (0.5, 7.0)];
        let seen = evened(&points, 10.0).unwrap();
        for (seen, expected) in seen.iter().zip([1.0, 2.0, 4.0, 6.0, 8.0, 7.0]) {
            assert!((seen - expected).abs() < 1e-9, "{seen} is not {expected}");
        }
        assert_eq!(seen.len(), 6);
        assert_eq!(evened(&points[..1], 10.0), None);
        assert_eq!(evened(&[], 10.0), None);
    }
}
