//! Rise and overshoot of the current into the arc (IEEE Std 181 on the waveform at the strike; docs/measures.md).

use super::anatomy::Anatomy;
use super::robust;
use super::trace::Trace;
use super::tracker::Span;
use super::transition::{high_level, moving_mean, overshoot_pct, rise};

/// The state before the arc is read over this long before it, s.
const BEFORE_S: f64 = 0.005;
/// Two states nearer than this part of the higher are one: there is no transition to measure.
const MIN_STATE_DIFFERENCE: f64 = 0.1;
/// A rise of fewer samples is not measured.
const MIN_RISE_SAMPLES: f64 = 2.0;
/// The current is averaged over this part of its raw rise.
const SMOOTHED_PART: f64 = 0.125;
/// Overshoot is looked for over this many rise times after the rise, and at least this long, s.
const OVERSHOOT_RISES: f64 = 3.0;
const OVERSHOOT_MIN_S: f64 = 0.005;

/// What the current does at the strike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Onset {
    /// It rises from one state to another.
    Rises {
        /// 10–90 %, frames.
        frames: f64,
        /// Percent of the state difference; `None` where nothing follows the rise.
        overshoot_pct: Option<f64>,
    },
    /// It rises faster than the samples can tell.
    TooFast,
    /// There is no transition.
    Level,
}

/// The current in the direction it first took, from what it was before the arc. A touch start rises from the touching
/// current: that state is over where the tungsten leaves. `noise` is that of the current, A rms.
pub(crate) fn onset(trace: &Trace, anatomy: &Anatomy, window: Span, noise: f64) -> Onset {
    measured(trace, anatomy, window, noise).unwrap_or(Onset::Level)
}

fn measured(trace: &Trace, anatomy: &Anatomy, window: Span, noise: f64) -> Option<Onset> {
    let begin = anatomy.strike.max(window.on);
    let at = trace.range(Span {
        on: begin,
        off: window.off,
    });
    let sign = 1.0_f64.copysign(*trace.amps.get(at.start + 2)?);
    let before = Span {
        on: begin - BEFORE_S * trace.rate_hz,
        off: begin,
    };
    let low = robust::median(
        &mut trace
            .amps_in(before)
            .iter()
            .map(|i| i * sign)
            .collect::<Vec<_>>(),
    );
    let low = low.unwrap_or(0.0).max(0.0);
    let mut wave = vec![low];
    wave.extend(trace.amps[at].iter().map(|i| (i * sign).max(0.0)));
    let high = high_level(&wave, noise)?;
    if high - low < MIN_STATE_DIFFERENCE * high {
        return None;
    }
    let raw = rise(&wave, low, high)?;
    if raw.t90 - raw.t10 < MIN_RISE_SAMPLES {
        return Some(Onset::TooFast);
    }
    let reach = |frames: f64| (OVERSHOOT_RISES * frames).max(OVERSHOOT_MIN_S * trace.rate_hz);
    let raw_frames = raw.t90 - raw.t10;
    // Twice as far as the overshoot is looked for by the raw rise, so that the smoothed one has room.
    wave.truncate((raw.t90 + 2.0 * reach(raw_frames)) as usize);
    let smooth = moving_mean(wave, SMOOTHED_PART * raw_frames);
    let fine = rise(&smooth, low, high)?;
    let frames = fine.t90 - fine.t10;
    let top = fine.t90 as usize;
    let after = &smooth[top..((fine.t90 + reach(frames)) as usize).clamp(top, smooth.len())];
    let overshoot = (!after.is_empty()).then(|| overshoot_pct(after, low, high));
    Some(Onset::Rises {
        frames,
        overshoot_pct: overshoot,
    })
}
