//! Rise and overshoot of the current into the arc (IEEE Std 181 on the waveform at the strike; docs/measures.md).

use crate::start::find::tracker::Span;
use crate::start::measure::discharge::{self, Discharge};
use crate::start::measure::transition::{high_level, moving_mean, overshoot_pct, rise};
use crate::start::measure::{hidden_rise, spikes};
use crate::start::trace::Trace;
use crate::stats::order;

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
/// A discharge is not told shorter than so many samples.
const SHARP: f64 = 2.5;
/// A rise faster than this, s, overshoots for no longer than a spike lasts …
const BLURRED_S: f64 = 0.25e-3;
/// … so that an overshoot that was taken out with them by this part of the state difference, within this of the strike, s, is not told.
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
        /// The overshoot is as short as a spike: which of them it was cannot be told.
        blurred: bool,
    },
    /// It rises faster than the samples can tell.
    TooFast,
    /// A capacitor's discharge lies over it.
    Hidden,
    /// There is no transition.
    Level,
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
    measured([trace, calm], window, noise, ripple).unwrap_or(Onset::Level)
}

fn measured(
    [trace, calm]: [&Trace; 2],
    window: Span,
    noise: f64,
    ripple: Option<f64>,
) -> Option<Onset> {
    let at = trace.range(window);
    let sign = 1.0_f64.copysign(*trace.amps.get(at.start + 2)?);
    let state = Span {
        on: window.on - BEFORE_S * trace.rate_hz,
        off: window.on,
    };
    let upright = trace.amps_in(state).iter().map(|i| i * sign);
    let low = order::median_in_place(&mut upright.collect::<Vec<_>>());
    let low = low.unwrap_or(0.0).max(0.0);
    let struck = |trace: &Trace| {
        let mut wave = vec![low];
        wave.extend(trace.amps[at.clone()].iter().map(|i| (i * sign).max(0.0)));
        wave
    };
    let mut wave = struck(trace);
    // What ripples has its level, and its overshoot, in its means; spikes as high as the level would have their own.
    let mean = ripple.map(|period| moving_mean(wave.clone(), period));
    let high = match &mean {
        Some(mean) => high_level(mean, noise)?,
        None => high_level(&struck(calm), noise)?,
    };
    if high - low < MIN_STATE_DIFFERENCE * high {
        return None;
    }
    let untouched = wave[..wave.len().min((HIDES_S * trace.rate_hz) as usize)].to_vec();
    let discharge = discharge::take_out(&mut wave, trace.rate_hz, high);
    let spiky = wave[..wave.len().min((SPIKY_S * trace.rate_hz) as usize)].to_vec();
    spikes::take_out(&mut wave, trace.rate_hz, SPIKE * high);
    // What a discharge hides may be told by what follows it.
    let strike = window.on - trace.frame(at.start as f64) + 1.0;
    let behind = |d: Discharge| {
        let from_nothing = mean.is_none() && low < FROM_NOTHING * high;
        let rise = from_nothing
            .then(|| hidden_rise::rise(&untouched, trace.rate_hz, (strike, d.top), (high, noise)));
        match rise.flatten() {
            Some(rise) => Onset::Rises {
                frames: rise.frames,
                overshoot_pct: Some(rise.overshoot_pct),
                blurred: false,
            },
            None => Onset::Hidden,
        }
    };
    let Some(raw) = rise(&wave, low, high) else {
        return discharge.map(behind);
    };
    let hides = |d: &Discharge| !d.clean || raw.t90 - raw.t10 < HIDDEN * d.tau.max(SHARP);
    if let Some(discharge) = discharge.filter(hides) {
        return Some(behind(discharge));
    }
    if raw.t90 - raw.t10 < MIN_RISE_SAMPLES {
        return Some(Onset::TooFast);
    }
    let reach = |frames: f64| (OVERSHOOT_RISES * frames).max(OVERSHOOT_MIN_S * trace.rate_hz);
    let raw_frames = raw.t90 - raw.t10;
    // Twice as far as the overshoot is looked for by the raw rise, so that the smoothed one has room.
    wave.truncate((raw.t90 + 2.0 * reach(raw_frames)) as usize);
    let smooth = moving_mean(wave, SMOOTHED_PART * raw_frames);
    let Some(fine) = rise(&smooth, low, high) else {
        return discharge.map(behind);
    };
    let frames = fine.t90 - fine.t10;
    let smooth = mean.unwrap_or(smooth);
    let over = discharge.map_or(0, |d| d.over);
    let top = (fine.t90 as usize).max(over).min(smooth.len());
    let after = &smooth[top..((fine.t90 + reach(frames)) as usize).clamp(top, smooth.len())];
    let spiky = spiky.get(top..).unwrap_or_default();
    let blurred = frames < BLURRED_S * trace.rate_hz
        && highest(spiky) - highest(after) > (BLURRED * (high - low)).max(4.0 * noise);
    let machine = frames <= SLOWEST_S * trace.rate_hz
        && (frames <= HAND_S * trace.rate_hz || comes_back(after, high));
    let told = !after.is_empty() && !blurred && machine;
    Some(Onset::Rises {
        frames,
        overshoot_pct: told.then(|| overshoot_pct(after, low, high)),
        blurred,
    })
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
mod tests {
    use super::*;

    /// Frames a millisecond.
    const MS: f64 = 10.0;

    /// What is seen of a current, given by the milliseconds, that is an arc from 50 ms on.
    fn seen(amps: impl Fn(f64) -> f64) -> Onset {
        let trace = Trace {
            rate_hz: 1e3 * MS,
            first: 50,
            amps: (50..3000).map(|n| amps(f64::from(n) / MS)).collect(),
            volts: Vec::new(),
        };
        let window = Span {
            on: 50.0 * MS,
            off: 2500.0,
        };
        onset(&trace, &trace, window, 0.0, None)
    }

    fn rises(onset: Onset) -> (f64, f64) {
        match onset {
            Onset::Rises {
                frames,
                overshoot_pct,
                ..
            } => (frames / MS, overshoot_pct.unwrap()),
            other => panic!("{other:?}"),
        }
    }

    /// 20 A, for the last 6 ms 40 A, then straight to 100 A in 10 ms: 8 ms lie between 10 % and 90 % of the 60 A. Either way round.
    #[test]
    fn a_touch_start_rises_from_the_last_five_milliseconds_of_its_touch() {
        for sign in [1.0, -1.0] {
            let amps = |ms: f64| {
                sign * match ms {
                    ..20.0 => 0.0,
                    20.0..44.0 => 20.0,
                    44.0..50.0 => 40.0,
                    50.0..60.0 => 40.0 + 6.0 * (ms - 50.0),
                    _ => 100.0,
                }
            };
            let (rise, overshoot) = rises(seen(amps));
            assert!((rise - 8.0).abs() < 0.01, "{rise}");
            assert!(overshoot < 0.01, "{overshoot}");
        }
    }

    /// 1 ms to 80 A, so that three rises of 0.8 ms are less than 5 ms: 1 ms of 88 A after that is an overshoot of 10 % or none, and one
    /// sample of them decides nothing.
    #[test]
    fn after_a_fast_rise_overshoot_is_looked_for_over_five_milliseconds() {
        let bump_at = |at: f64, lasts: f64| {
            let amps = move |ms: f64| match ms {
                _ if (at..at + lasts).contains(&ms) => 88.0,
                ..50.0 => 0.0,
                50.0..51.0 => 80.0 * (ms - 50.0),
                _ => 80.0,
            };
            rises(seen(amps))
        };
        let (rise, overshoot) = bump_at(54.5, 1.0);
        assert!((rise - 0.8).abs() < 0.01, "{rise}");
        assert!((overshoot - 10.0).abs() < 0.1, "{overshoot}");
        for (at, lasts) in [(56.2, 1.0), (54.5, 0.1)] {
            let (_, overshoot) = bump_at(at, lasts);
            assert!(overshoot < 0.01, "{overshoot}");
        }
    }

    /// 150 A that fall with 0.5 ms on a rise of 1.5 ms: what was taken out may have been a part of the rise. On one of 5 ms it is not.
    #[test]
    fn a_discharge_as_slow_as_the_rise_leaves_it_unmeasured() {
        let struck = |rise_ms: f64| {
            seen(move |ms| match ms - 50.0 {
                ..0.0 => 0.0,
                t => {
                    let arc = 100.0 * (1.0 - (-t / rise_ms * 2.2).exp());
                    arc + 150.0 * (-t / 0.5).exp()
                }
            })
        };
        for rise_ms in [0.8, 1.2, 1.5] {
            assert!(!matches!(struck(rise_ms), Onset::Rises { .. }), "{rise_ms}");
        }
        let (rise, overshoot) = rises(struck(5.0));
        assert!((rise - 5.0).abs() < 0.5, "{rise}");
        assert!(overshoot < 2.0, "{overshoot}");
    }

    /// At 20 kHz the first sample shows 75 A of a spike, and 94 A are reached 0.5 ms later: from where the rise began nothing tells.
    #[test]
    fn a_spike_on_the_strike_hides_a_short_rise() {
        let amps = |n: u32| match n {
            ..500 => 0.0,
            500 => 75.0,
            _ => (9.4 * f64::from(n - 500)).min(94.0),
        };
        let trace = Trace {
            rate_hz: 20e3,
            first: 0,
            amps: (0..20_000).map(amps).collect(),
            volts: Vec::new(),
        };
        let window = Span {
            on: 500.0,
            off: 20_000.0,
        };
        assert_eq!(onset(&trace, &trace, window, 0.0, None), Onset::Hidden);
    }

    /// At 50 kHz, 100 A within 0.2 ms with 0.1 ms of 110 A behind: an overshoot or the ignition's spike.
    #[test]
    fn an_overshoot_as_short_as_a_spike_is_not_told() {
        let amps = |n: u32| match n {
            ..500 => 0.0,
            500..510 => 10.0 * f64::from(n - 500),
            510..515 => 110.0,
            _ => 100.0,
        };
        let trace = Trace {
            rate_hz: 50e3,
            first: 0,
            amps: (0..20_000).map(amps).collect(),
            volts: Vec::new(),
        };
        let window = Span {
            on: 500.0,
            off: 20_000.0,
        };
        let Onset::Rises {
            overshoot_pct,
            blurred,
            ..
        } = onset(&trace, &trace, window, 0.0, None)
        else {
            panic!("it rises");
        };
        assert!(blurred && overshoot_pct.is_none());
    }

    /// A pedal from 20 A to 70 A in 80 ms and back to 60 A takes 55.8 ms from 6 A to 54 A: it shoots past nothing.
    #[test]
    fn a_pedal_overshoots_nothing() {
        let amps = |ms: f64| match ms {
            ..50.0 => 0.0,
            50.0..52.0 => 10.0 * (ms - 50.0),
            52.0..132.0 => 20.0 + 0.625 * (ms - 52.0),
            132.0..152.0 => 70.0 - 0.5 * (ms - 132.0),
            _ => 60.0,
        };
        let Onset::Rises {
            frames,
            overshoot_pct,
            ..
        } = seen(amps)
        else {
            panic!("it rises");
        };
        assert!((frames / MS - 55.8).abs() < 0.5, "{}", frames / MS);
        assert_eq!(overshoot_pct, None);
    }

    /// 3.3 A/ms to 80 A, and down to 60 A for good: 14.5 ms of rise. Held until 70 ms it is a hand's, and until 35 ms an overshoot of a third.
    #[test]
    fn a_slow_overshoot_has_to_come_back() {
        let struck = |back_ms: f64| {
            let amps = move |ms: f64| match ms - 50.0 {
                ..0.0 => 0.0,
                t if t < 30.0 => (3.3 * t).min(80.0),
                t if t < back_ms => 80.0,
                _ => 60.0,
            };
            match seen(amps) {
                Onset::Rises { overshoot_pct, .. } => overshoot_pct,
                other => panic!("{other:?}"),
            }
        };
        assert_eq!(struck(70.0), None);
        let overshoot = struck(35.0).unwrap();
        assert!((overshoot - 100.0 / 3.0).abs() < 1.0, "{overshoot}");
    }

    /// Three rises of 8 ms after the 90 % at 59 ms are over at 83 ms: a bump of 5 ms counts before that and not after.
    #[test]
    fn after_a_slow_rise_overshoot_is_looked_for_over_three_rises() {
        let bump_at = |at: f64| {
            let amps = move |ms: f64| match ms {
                _ if (at..at + 5.0).contains(&ms) => 88.0,
                ..50.0 => 0.0,
                50.0..60.0 => 8.0 * (ms - 50.0),
                _ => 80.0,
            };
            rises(seen(amps)).1
        };
        let (inside, after) = (bump_at(76.0), bump_at(84.0));
        assert!((inside - 10.0).abs() < 0.1, "{inside}");
        assert!(after < 0.01, "{after}");
    }

    /// The direction is that of the first current, whatever stood before it and whatever follows.
    #[test]
    fn of_alternating_current_the_first_half_cycle_rises() {
        let amps = |ms: f64| match ms {
            ..50.0 => -0.1,
            50.0..60.0 => 8.0 * (ms - 50.0),
            60.0..90.0 => 80.0,
            _ => -80.0,
        };
        let (rise, _) = rises(seen(amps));
        assert!((rise - 8.0).abs() < 0.01, "{rise}");
    }

    #[test]
    fn a_step_within_a_sample_is_too_fast_and_one_of_under_a_tenth_is_none() {
        let step = |low: f64| seen(move |ms| if ms < 50.0 { low } else { 100.0 });
        assert_eq!((step(0.0), step(89.5)), (Onset::TooFast, Onset::TooFast));
        assert_eq!((step(90.5), step(100.0)), (Onset::Level, Onset::Level));
        let later = |ms: f64| if ms < 60.0 { 10.0 } else { 100.0 };
        assert_eq!(seen(later), Onset::TooFast);
    }
}
