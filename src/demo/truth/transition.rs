//! Rise and overshoot of steady direct current by IEEE Std 181, as docs/measures.md has them.

use super::facts::{TruthStart, median};
use crate::circuit::Fine;
use crate::scenario::{Strike, Wave};

/// The low level is that of this long before the strike, s.
const BEFORE_S: f64 = 0.005;
const BINS: usize = 100;
/// Levels closer than this part of the higher one are no transition.
const LEAST_STEP: f64 = 0.1;
/// Overshoot is looked for within this many rise times, and at least this long, s.
const AFTER_RISES: f64 = 3.0;
const AFTER_S: f64 = 0.005;

/// Adds rise and overshoot, where the current is neither pulsed nor alternating and has no ripple.
pub(super) fn transition(truth: &mut TruthStart, strike: &Strike, fine: &Fine, window: (f64, f64)) {
    let steady = matches!(strike.program.wave, Wave::Negative | Wave::Positive);
    if !steady || strike.program.ripple.is_some() {
        return;
    }
    let from = (window.0 - BEFORE_S).max(0.0);
    let amps: Vec<f64> = fine.amps[fine.range((from, window.1))]
        .iter()
        .map(|i| i.abs())
        .collect();
    let begin = fine.range((from, window.0)).len();
    let Some(low) = median(amps[..begin].to_vec()) else {
        return;
    };
    let high = high_level(&amps, low);
    if high - low < LEAST_STEP * high {
        return;
    }
    let level = |share: f64| low + share * (high - low);
    let upward = |share: f64, from: usize| {
        (from.max(1)..amps.len()).find(|k| amps[k - 1] < level(share) && amps[*k] >= level(share))
    };
    let Some(half) = upward(0.5, 0) else { return };
    let Some(end) = upward(0.9, half) else { return };
    let tenth = (1..=half)
        .rev()
        .find(|k| amps[k - 1] < level(0.1) && amps[*k] >= level(0.1));
    let Some(tenth) = tenth else { return };
    let exact = |k: usize, share: f64| {
        k as f64 - 1.0 + (level(share) - amps[k - 1]) / (amps[k] - amps[k - 1])
    };
    let rise_s = (exact(end, 0.9) - exact(tenth, 0.1)) * fine.dt;
    let looked = ((AFTER_RISES * rise_s).max(AFTER_S) / fine.dt) as usize;
    let most = amps[end..(end + looked).min(amps.len())]
        .iter()
        .fold(high, |a, b| a.max(*b));
    truth.more.rise_ms = Some(rise_s * 1e3);
    truth.more.overshoot_pct = Some(100.0 * (most - high) / (high - low));
}

/// The fullest bin of the upper half of the range, moved to the mean of what lies within one bin of it until it stays.
fn high_level(amps: &[f64], low: f64) -> f64 {
    let top = amps.iter().fold(low, |a, b| a.max(*b));
    let (middle, width) = ((low + top) / 2.0, (top - low) / 2.0 / BINS as f64);
    let mut counts = [0usize; BINS];
    for i in amps.iter().filter(|i| **i > middle) {
        counts[(((i - middle) / width) as usize).min(BINS - 1)] += 1;
    }
    let fullest = (0..BINS)
        .rev()
        .max_by_key(|k| counts[*k])
        .unwrap_or(BINS - 1);
    let mut level = middle + (fullest as f64 + 0.5) * width;
    for _ in 0..BINS {
        let near = amps.iter().filter(|i| (**i - level).abs() <= width);
        let (sum, count) = near.fold((0.0, 0), |(s, n), i| (s + i, n + 1));
        let moved = if count > 0 {
            sum / f64::from(count)
        } else {
            level
        };
        if (moved - level).abs() < 1e-9 * top {
            break;
        }
        level = moved;
    }
    level
}
