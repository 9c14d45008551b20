//! Energy and charge while conducting, from the first current until the current settled.

use crate::error::Result;
use crate::recording::{Block, Recording, Segment};
use crate::start::find::phases::EventGroup;
use crate::start::find::tracker::Span;

/// Frames summed at a time.
const PIECE: f64 = 65_536.0;

/// Charge and energy of a start.
pub(crate) struct Heat {
    /// ∫|i| dt, C.
    pub charge_c: f64,
    /// ∫u·i dt, J; `None` without a voltage trace.
    pub energy_j: Option<f64>,
}

/// Charge and energy up to an instant (frames), linear between samples. Reads in pieces, since a stutter may be long.
///
/// # Errors
/// Read errors of the recording.
pub(crate) fn heat(
    recording: &Recording,
    segment: &Segment,
    group: &EventGroup,
    settled: f64,
) -> Result<Heat> {
    let (mut charge, mut energy) = (0.0, 0.0);
    let mut block = Block::default();
    for run in group.runs.iter().filter(|r| r.span.on < settled) {
        let off = run.span.off.min(settled);
        let mut at = run.span.on;
        while at < off {
            let to = off.min((at + PIECE).floor());
            let first = at.floor() as u64;
            let last = (to.ceil() as u64 + 1).min(segment.first + segment.frames);
            recording.read(first..last, &mut block)?;
            let span = Span {
                on: at - first as f64,
                off: to - first as f64,
            };
            charge += integral(span, block.amps.len(), |k| block.amps[k].abs());
            if !block.volts.is_empty() {
                energy += integral(span, block.amps.len(), |k| block.amps[k] * block.volts[k]);
            }
            at = to;
        }
    }
    let step_s = 1.0 / recording.rate_hz();
    Ok(Heat {
        charge_c: charge * step_s,
        // Swapped leads reverse the sign of the power, but heat stays positive.
        energy_j: recording.has_volts().then_some(energy.abs() * step_s),
    })
}

/// Integral over a span of values interpolated linearly between `count` samples, in value × samples.
fn integral(span: Span, count: usize, value: impl Fn(usize) -> f64) -> f64 {
    let at = |x: f64| {
        let k = (x as usize).min(count - 1);
        let next = (k + 1).min(count - 1);
        value(k) + (value(next) - value(k)) * (x - k as f64)
    };
    let first = span.on.floor() as usize;
    (first..span.off.ceil() as usize)
        .map(|k| {
            let (a, b) = (span.on.max(k as f64), span.off.min((k + 1) as f64));
            0.5 * (at(a) + at(b)) * (b - a)
        })
        .sum()
}
