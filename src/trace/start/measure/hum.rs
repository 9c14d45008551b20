//! Hum of the logger on a direct current: what repeats in the arc as it does at rest, and is none of the current's.

use std::ops::Range;

use crate::start::measure::ripple::Ripple;
use crate::start::measure::transition::moving_mean;
use crate::stats::order;

/// Noise at rest of over this multiple of its white part is hum for the most part …
const HUM_TIMES: f64 = 2.0;
/// … and what repeats in the arc is, where this much of its crest stands at rest too, as far as the short stretches of rest show it.
const AT_REST: f64 = 0.5;
/// Places of the mean period at the most.
const PLACES: f64 = 48.0;
/// The first fifth belongs to the rise.
const RISES: usize = 5;

/// The crest of the hum at rest, A, by all noise there and its white part, A rms: of a sine wave the median deviation makes about as much
/// noise. 0 where there is none to speak of.
pub(crate) fn at_rest(noise: f64, white: f64) -> f64 {
    match noise.is_finite() && noise > HUM_TIMES * white {
        true => (noise.powi(2) - white.powi(2)).sqrt(),
        false => 0.0,
    }
}

/// Whether a ripple about a level is the logger's hum: the current at rest has it too.
pub(crate) fn is_hum(ripple: Ripple, level: f64, at_rest: f64) -> bool {
    let crest = 0.5e-2 * ripple.pct * level;
    at_rest >= AT_REST * crest
}

/// Takes what repeats with a period off a magnitude, by its mean period in the window.
pub(crate) fn take_out(magnitude: &mut [f64], window: Range<usize>, period: f64) {
    let edge = period.ceil() as usize;
    let from = (window.start + window.len() / RISES).max(edge);
    let to = window.end.saturating_sub(edge);
    if to < from + 2 * edge {
        return;
    }
    let slow = moving_mean(magnitude.to_vec(), period);
    let places = period.clamp(1.0, PLACES) as usize;
    let place = |k: usize| (k as f64 / period).fract() * places as f64;
    let mut folded = vec![Vec::new(); places];
    for k in from..to {
        folded[(place(k) as usize).min(places - 1)].push(magnitude[k] - slow[k]);
    }
    // The median of each place: an interruption moves none.
    let middle = |mut values: Vec<f64>| order::median_in_place(&mut values).unwrap_or(0.0);
    let mean: Vec<f64> = folded.into_iter().map(middle).collect();
    for (k, value) in magnitude.iter_mut().enumerate().skip(window.start) {
        // A place's value stands in its middle, straight lines between.
        let at = place(k) + places as f64 - 0.5;
        let (before, part) = (at as usize % places, at.fract());
        *value -= mean[before] + part * (mean[(before + 1) % places] - mean[before]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 10_000.0;

    /// A sine wave of 5 A has a median deviation of 5·sin 45°, which noise of 5.24 A rms has too (closed form).
    #[test]
    fn what_stands_at_rest_too_is_hum_and_a_rectifiers_ripple_is_none() {
        assert!((at_rest(5.24, 0.1) / 5.0 - 1.0).abs() < 0.05);
        assert_eq!(at_rest(5.24, 4.5), 0.0, "that is noise");
        assert_eq!(at_rest(f64::INFINITY, 0.1), 0.0, "nothing is known of it");
        let ripple = Ripple {
            period: 200.0,
            pct: 10.0,
        };
        assert!(is_hum(ripple, 100.0, 5.0) && !is_hum(ripple, 100.0, 0.3));
    }

    /// 5 A of 50.3 Hz on a current that falls from 150 A to 100 A with 30 ms: the fall is left, to 0.3 A, and one interruption too.
    #[test]
    fn hum_is_taken_off_a_current_that_still_falls() {
        let fall = |k: usize| match k {
            ..300 => 0.0,
            6000..6050 => 0.0,
            _ => 100.0 + 50.0 * (-((k - 300) as f64) / (0.03 * RATE)).exp(),
        };
        let hum = |k: usize| 5.0 * (std::f64::consts::TAU * 50.3 * k as f64 / RATE).sin();
        let mut seen: Vec<f64> = (0..10_300).map(|k| fall(k) + hum(k)).collect();
        take_out(&mut seen, 300..10_300, RATE / 50.3);
        let worst = (300..10_300).map(|k| (seen[k] - fall(k)).abs());
        let worst = worst.fold(0.0, f64::max);
        assert!(worst < 0.3, "{worst}");
    }

    /// Of less than two periods no mean is made.
    #[test]
    fn a_short_window_keeps_its_hum() {
        let before: Vec<f64> = (0..300).map(f64::from).collect();
        let mut seen = before.clone();
        take_out(&mut seen, 10..300, 100.0);
        assert_eq!(seen, before);
    }
}
