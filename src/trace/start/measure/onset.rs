//! Rise and overshoot of the current into the arc (IEEE Std 181 on the waveform at the strike; docs/measures.md).

use crate::start::find::tracker::Span;
use crate::start::measure::discharge::{self, Discharge};
use crate::start::measure::transition::{Rise, high_level, moving_mean, overshoot_pct, rise};
use crate::start::measure::{hidden_rise, spikes};
use crate::start::trace::Trace;
use crate::stats::order;

/// The state before the arc is read over this long before it, s.
const BEFORE_S: f64 = 0.005;
/// On its way from 10 to 90 % a rise falls back by less than a spike, or than this multiple of the noise.
const FALLS_SIGMAS: f64 = 8.0;
/// The current's direction is read over this long, or three samples, s: less than a half-wave of any arc.
const FIRST_S: f64 = 0.3e-3;
/// Two states nearer than this part of the higher are one: there is no transition to measure.
const MIN_STATE_DIFFERENCE: f64 = 0.1;
/// A rise of fewer samples is not measured.
const MIN_RISE_SAMPLES: f64 = 2.0;
/// The current is averaged over this part of its raw rise.
const SMOOTHED_PART: f64 = 0.125;
/// Overshoot is looked for over this many rise times after the rise, and at least this long, s.
const OVERSHOOT_RISES: f64 = 3.0;
const OVERSHOOT_MIN_S: f64 = 0.005;
/// A slower rise is no machine's but a slope's or a pedal's: it overshoots nothing, s (common practice, no source).
const SLOWEST_S: f64 = 0.05;
/// One slower than this may be a hand's or a slope's, s, where what it shoots past does not come back.
const HAND_S: f64 = 0.01;
/// A rise of fewer time constants of a discharge is hidden by it: what was taken out may have been a part of the rise, for a discharge
/// through a choke is no exponential.
const HIDDEN: f64 = 9.0;
/// Looked at behind a discharge that hides a rise, s.
const HIDES_S: f64 = 8e-3;
/// A rise begins at nothing where the state before it is under this part of its level.
const FROM_NOTHING: f64 = 0.05;
/// No discharge shorter than this many samples is recognised.
const SHARP: f64 = 2.5;
/// A rise faster than this, s, overshoots for no longer than a spike lasts. So does one faster than this multiple of what is looked at to
/// either side of a spike: an overshoot of second order lasts about two rise times, half a sine wave, and a crest of 20 % stands out by
/// [`SPIKE`] from what lies 0.61 of half of that away, 1/0.61 …
const BLURRED_S: f64 = 0.25e-3;
const BLURRED_REACH: f64 = 1.65;
/// … so that an overshoot that was taken out with them by this part of the state difference, within this of the strike, s, is not reported.
const BLURRED: f64 = 0.04;
const SPIKY_S: f64 = 6e-3;
/// Spikes over this part of the level are the ignition's.
const SPIKE: f64 = 0.08;

/// What the current does at the strike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Onset {
    /// It rises from one state to another.
    Rises {
        /// 10–90 %, frames.
        frames: f64,
        /// Percent of the state difference; `None` where nothing follows the rise, where a hand or a slope made it, and where it is
        /// blurred.
        overshoot_pct: Option<f64>,
        /// The overshoot is as short as a spike: which of the two it was is not known.
        blurred: bool,
    },
    /// It rises faster than the samples can tell.
    TooFast,
    /// A capacitor's discharge lies over it.
    Hidden,
    /// The states before and in the arc are too near for a transition, or it is too slow for a machine's.
    Level,
    /// There is one, and no rise is found in it.
    Unread,
}

/// The current in the direction it first took, from what it was before the arc. A touch start rises from the touching
/// current: that state is over where the tungsten leaves. `noise` is that of the current, A rms, `ripple` the period of its
/// ripple, frames, `calm` the trace without spikes.
pub(crate) fn onset(
    trace: &Trace,
    calm: &Trace,
    window: Span,
    noise: f64,
    ripple: Option<f64>,
) -> Onset {
    measured([trace, calm], window, noise, ripple).unwrap_or(Onset::Unread)
}

fn measured(traces: [&Trace; 2], window: Span, noise: f64, ripple: Option<f64>) -> Option<Onset> {
    let (strike, mut wave) = Strike::of(traces, window, noise, ripple)?;
    let Strike { low, high, .. } = strike;
    if high - low < MIN_STATE_DIFFERENCE * high {
        return Some(Onset::Level);
    }
    let rate_hz = strike.rate_hz;
    let struck = wave[..wave.len().min((HIDES_S * rate_hz) as usize)].to_vec();
    let discharge = discharge::take_out(&mut wave, rate_hz, high);
    let spiky = wave[..wave.len().min((SPIKY_S * rate_hz) as usize)].to_vec();
    spikes::take_out(&mut wave, rate_hz, SPIKE * high);
    let behind = |top: usize| strike.behind(&struck, top);
    let Some(raw) = rise(&wave, low, high) else {
        return discharge.map(|d| behind(d.top));
    };
    let raw_frames = raw.t90 - raw.t10;
    let hides = |d: &Discharge| !d.clean || raw_frames < HIDDEN * d.tau.max(SHARP);
    if let Some(discharge) = discharge.filter(hides) {
        return Some(behind(discharge.top));
    }
    if raw_frames < MIN_RISE_SAMPLES {
        return Some(Onset::TooFast);
    }
    let slow = raw_frames > HAND_S * rate_hz;
    let least = (SPIKE * (high - low)).max(FALLS_SIGMAS * noise);
    let climb = raw.t10.ceil() as usize..raw.t90 as usize;
    if let Some(top) = falls_back(&wave[climb.clone()], least).filter(|_| !slow) {
        return Some(behind(discharge.map_or(climb.start + top, |d| d.top)));
    }
    // Twice as far as the overshoot is looked for by the raw rise, so that the smoothed one has room.
    wave.truncate((raw.t90 + 2.0 * reach(raw_frames, rate_hz)) as usize);
    let smooth = moving_mean(wave, SMOOTHED_PART * raw_frames);
    let Some(fine) = rise(&smooth, low, high) else {
        // What takes so long, and in steps, has no rise of a machine's.
        let level = slow.then_some(Onset::Level);
        return discharge.map(|d| behind(d.top)).or(level);
    };
    let over = discharge.map_or(0, |d| d.over);
    Some(strike.told(&fine, &smooth, &spiky, over))
}

/// The states before and in the arc, and what the current is measured with.
struct Strike {
    /// The level before, A.
    low: f64,
    /// The level in the arc, A.
    high: f64,
    /// The means of what ripples.
    mean: Option<Vec<f64>>,
    noise: f64,
    rate_hz: f64,
    /// Where the arc strikes, samples of the wave.
    at: f64,
}

impl Strike {
    /// With the current from there on, upright, behind one sample of the level before.
    fn of(
        [trace, calm]: [&Trace; 2],
        window: Span,
        noise: f64,
        ripple: Option<f64>,
    ) -> Option<(Strike, Vec<f64>)> {
        let at = trace.range(window);
        // The ignition rings about zero: its spikes have no say.
        let first = at.start..(at.start + 3.max((FIRST_S * trace.rate_hz) as usize));
        let sign = 1.0_f64.copysign(calm.amps.get(first)?.iter().sum());
        let low = low_level(trace, window, sign);
        let struck = |trace: &Trace| {
            let mut wave = vec![low];
            wave.extend(trace.amps[at.clone()].iter().map(|i| (i * sign).max(0.0)));
            wave
        };
        let wave = struck(trace);
        // What ripples has its level, and its overshoot, in its means; spikes as high as the level would have their own.
        let mean = ripple.map(|period| moving_mean(wave.clone(), period));
        let high = match &mean {
            Some(mean) => high_level(mean, noise)?,
            None if std::ptr::eq(trace, calm) => high_level(&wave, noise)?,
            None => high_level(&struck(calm), noise)?,
        };
        let strike = Strike {
            low,
            high,
            mean,
            noise,
            rate_hz: trace.rate_hz,
            at: window.on - trace.frame(at.start as f64) + 1.0,
        };
        Some((strike, wave))
    }

    /// What a discharge hides may be told by what follows it.
    fn behind(&self, struck: &[f64], top: usize) -> Onset {
        let from_nothing = self.mean.is_none() && self.low < FROM_NOTHING * self.high;
        let states = (self.high, self.noise);
        let rise =
            from_nothing.then(|| hidden_rise::rise(struck, self.rate_hz, (self.at, top), states));
        match rise.flatten() {
            Some(rise) => Onset::Rises {
                frames: rise.frames,
                overshoot_pct: Some(rise.overshoot_pct),
                blurred: false,
            },
            None => Onset::Hidden,
        }
    }

    /// A rise with its overshoot, looked for in the means, or in the smoothed wave, behind it and behind a discharge that was over at
    /// `over`.
    fn told(&self, fine: &Rise, smooth: &[f64], spiky: &[f64], over: usize) -> Onset {
        let (low, high, rate_hz) = (self.low, self.high, self.rate_hz);
        let smooth = self.mean.as_deref().unwrap_or(smooth);
        let frames = fine.t90 - fine.t10;
        let top = (fine.t90 as usize).max(over).min(smooth.len());
        let end = ((fine.t90 + reach(frames, rate_hz)) as usize).clamp(top, smooth.len());
        let after = &smooth[top..end];
        let spiky = spiky.get(top..).unwrap_or_default();
        let short = (BLURRED_S * rate_hz).max(BLURRED_REACH * spikes::reach(rate_hz) as f64);
        let blurred = frames < short
            && highest(spiky) - highest(after) > (BLURRED * (high - low)).max(4.0 * self.noise);
        let machine = frames <= SLOWEST_S * rate_hz
            && (frames <= HAND_S * rate_hz || comes_back(after, high));
        let told = !after.is_empty() && !blurred && machine;
        Onset::Rises {
            frames,
            overshoot_pct: told.then(|| overshoot_pct(after, low, high)),
            blurred,
        }
    }
}

/// How far behind a rise its overshoot is looked for, frames.
fn reach(frames: f64, rate_hz: f64) -> f64 {
    (OVERSHOOT_RISES * frames).max(OVERSHOOT_MIN_S * rate_hz)
}

/// Level before the strike, A, upright by the arc's sign.
fn low_level(trace: &Trace, window: Span, sign: f64) -> f64 {
    let state = Span {
        on: window.on - BEFORE_S * trace.rate_hz,
        off: window.on,
    };
    let upright = trace.amps_in(state).iter().map(|i| i * sign);
    let low = order::median_in_place(&mut upright.collect::<Vec<_>>());
    low.unwrap_or(0.0).max(0.0)
}

/// Where a rise stands highest before it falls back by more than `least`: no regulator's does on its way, so that something lies on it.
fn falls_back(climb: &[f64], least: f64) -> Option<usize> {
    let mut top = 0;
    for (k, x) in climb.iter().enumerate() {
        if *x >= climb[top] {
            top = k;
        } else if climb[top] - x > least {
            return Some(top);
        }
    }
    None
}

/// Whether an overshoot is over by its end, half of it and more.
fn comes_back(after: &[f64], level: f64) -> bool {
    let last = &after[after.len() - after.len().div_ceil(10)..];
    let end = last.iter().sum::<f64>() / last.len().max(1) as f64;
    end - level < 0.5 * (highest(after) - level)
}

fn highest(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

#[cfg(test)]
mod tests;
