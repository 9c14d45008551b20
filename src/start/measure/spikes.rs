//! Spikes of the ignition, taken out of a trace before anything is measured on it.

use crate::stats::order;

/// Longest spike, s: the high-frequency unit rings for tens of microseconds, its single pulses last up to 150.
const LONGEST_S: f64 = 150e-6;
/// A spike stands out by this many standard deviations of the trace's noise.
const SIGMAS: f64 = 8.0;
/// Where more of a trace stands out than this part, it is no ignition that does so but the current itself.
const MOST: f64 = 0.15;

/// So many samples before and behind a sample are looked at.
pub(crate) fn reach(rate_hz: f64) -> usize {
    (LONGEST_S * rate_hz).ceil() as usize + 1
}

/// Replaces spikes of up to 150 µs by straight lines. A sample is part of one where it lies on one side of what is so far before
/// it and of what is so far behind it, by more than `least` and by more than noise. Says whether there were any.
pub(crate) fn take_out(trace: &mut [f64], rate_hz: f64, least: f64) -> bool {
    let reach = reach(rate_hz);
    if trace.len() <= 2 * reach {
        return false;
    }
    let height = least.max(SIGMAS * order::noise(trace));
    // Told without a branch, because noise takes either side of one as often as the other, and counted in lanes.
    let stands = |((before, at), behind): ((&f64, &f64), &f64)| {
        let (before, behind) = (at - before, at - behind);
        (before * behind > 0.0) & (before.abs() > height) & (behind.abs() > height)
    };
    let windows = || trace.iter().zip(&trace[reach..]).zip(&trace[2 * reach..]);
    let count: u64 = windows().map(|w| u64::from(stands(w))).sum();
    if count == 0 || count as f64 > MOST * trace.len() as f64 {
        return false;
    }
    let out: Vec<bool> = windows().map(stands).collect();
    let mut k = 0;
    while let Some(on) = out[k..].iter().position(|out| *out).map(|at| k + at) {
        let off = on + out[on..].iter().take_while(|out| **out).count();
        bridge(&mut trace[on + reach - 1..=off + reach]);
        k = off;
    }
    true
}

/// A straight line from the first value to the last.
fn bridge(values: &mut [f64]) {
    let last = values.len() - 1;
    let (from, to) = (values[0], values[last]);
    for (k, x) in values.iter_mut().enumerate() {
        *x = from + (to - from) * k as f64 / last as f64;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 20_000.0;

    /// 100 A with a noise of a tenth of an ampere that no chance is needed for.
    fn steady() -> Vec<f64> {
        (0..4000)
            .map(|k| 100.0 + 0.1 * ((k * 7 % 5) as f64 - 2.0))
            .collect()
    }

    /// Three samples at 20 kHz are 150 µs.
    #[test]
    fn a_spike_of_three_samples_goes_and_an_interruption_of_half_a_millisecond_stays() {
        let clean = steady();
        for (from, values) in [(500, vec![40.0, -25.0, 12.0]), (1900, vec![-30.0])] {
            let mut trace = clean.clone();
            trace[from..from + values.len()]
                .iter_mut()
                .zip(&values)
                .for_each(|(x, v)| *x += v);
            take_out(&mut trace, RATE, 5.0);
            let worst = trace
                .iter()
                .zip(&clean)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max);
            assert!(worst < 0.5, "{worst}");
        }
        let mut dropped = clean;
        dropped[700..710].fill(0.0);
        let before = dropped.clone();
        take_out(&mut dropped, RATE, 5.0);
        assert_eq!(dropped, before);
    }

    #[test]
    fn an_edge_stays_where_it_is_and_so_does_a_fast_pulse() {
        let edge: Vec<f64> = (0..400)
            .map(|k| if k < 200 { 20.0 } else { 90.0 })
            .collect();
        let pulse: Vec<f64> = (0..400)
            .map(|k| if k % 8 < 2 { 90.0 } else { 20.0 })
            .collect();
        for wave in [edge, pulse] {
            let mut seen = wave.clone();
            take_out(&mut seen, RATE, 5.0);
            assert_eq!(seen, wave);
        }
    }
}
