//! Spikes of the ignition, taken out of a trace before anything is measured on it.

use crate::stats::order;
use crate::stats::order::LANES;

/// Longest spike, s: the high-frequency unit rings for tens of microseconds, its single pulses last up to 150.
const LONGEST_S: f64 = 150e-6;
/// A spike stands out by this many standard deviations of the trace's noise.
const SIGMAS: f64 = 8.0;
/// Where more of a trace stands out than this part, it is no ignition that does so but the current itself.
const MOST: f64 = 0.15;
/// What is looked for again where some were taken out, so often.
const PASSES: usize = 4;

/// This many samples before and behind a sample are looked at.
pub(crate) fn reach(rate_hz: f64) -> usize {
    (LONGEST_S * rate_hz).ceil() as usize + 1
}

/// Replaces spikes of up to 150 µs by straight lines; says whether there were any.
pub(crate) fn take_out(trace: &mut [f64], rate_hz: f64, least: f64) -> bool {
    let found = find(trace, rate_hz, least);
    found.inspect(|spikes| spikes.take_out(trace)).is_some()
}

/// Takes spikes out that were found, and what of a dense burst stands out only when those are gone.
pub(crate) fn take_all_out(found: Spikes, trace: &mut [f64], rate_hz: f64, least: f64) {
    let mut found = Some(found);
    for _ in 0..PASSES {
        let Some(spikes) = found else { return };
        spikes.take_out(trace);
        found = find(trace, rate_hz, least);
    }
}

/// Spikes of a trace.
pub(crate) struct Spikes {
    reach: usize,
    /// Whether each sample is part of one, from `reach` on.
    out: Vec<bool>,
}

/// Finds spikes of up to 150 µs. A sample is part of one where it lies on one side of what is so far before it and of what is so far
/// behind it, by more than `least` and by more than noise.
pub(crate) fn find(trace: &[f64], rate_hz: f64, least: f64) -> Option<Spikes> {
    let reach = reach(rate_hz);
    if trace.len() <= 2 * reach || highest(trace, reach) <= least {
        return None;
    }
    let height = least.max(SIGMAS * order::noise(trace));
    // Told without a branch, because noise takes either side of one as often as the other, and counted in lanes.
    let stands = |((before, at), behind): ((&f64, &f64), &f64)| {
        let (before, behind) = (at - before, at - behind);
        (before * behind > 0.0) & (before.abs() > height) & (behind.abs() > height)
    };
    let windows = || trace.iter().zip(&trace[reach..]).zip(&trace[2 * reach..]);
    let count: u64 = windows().map(|w| u64::from(stands(w))).sum();
    let ignition = count > 0 && count as f64 <= MOST * trace.len() as f64;
    ignition.then(|| Spikes {
        reach,
        out: windows().map(stands).collect(),
    })
}

impl Spikes {
    /// Replaces them by straight lines, in the trace they were found in.
    pub fn take_out(&self, trace: &mut [f64]) {
        let Spikes { reach, out } = self;
        let mut k = 0;
        while let Some(on) = out[k..].iter().position(|out| *out).map(|at| k + at) {
            let off = on + out[on..].iter().take_while(|out| **out).count();
            bridge(&mut trace[on + reach - 1..=off + reach]);
            k = off;
        }
    }
}

/// By how much a sample at the most lies on one side of both what is `reach` before it and what is `reach` behind it.
fn highest(trace: &[f64], reach: usize) -> f64 {
    let ends = trace.len() - 2 * reach;
    let (before, at, behind) = (&trace[..ends], &trace[reach..][..ends], &trace[2 * reach..]);
    let (before, before_rest) = before.as_chunks::<LANES>();
    let (at, at_rest) = at.as_chunks::<LANES>();
    let (behind, behind_rest) = behind.as_chunks::<LANES>();
    let mut most = [0.0; LANES];
    for ((before, at), behind) in before.iter().zip(at).zip(behind) {
        for k in 0..LANES {
            let height = stands_by(before[k], at[k], behind[k]);
            most[k] = if height > most[k] { height } else { most[k] };
        }
    }
    let rest = before_rest.iter().zip(at_rest).zip(behind_rest);
    let rest = rest.map(|((before, at), behind)| stands_by(*before, *at, *behind));
    rest.chain(most).fold(0.0, f64::max)
}

/// By how much a value lies on one side of two others; under 0 where it lies between them.
#[inline]
fn stands_by(before: f64, at: f64, behind: f64) -> f64 {
    let (low, high) = match before < behind {
        true => (before, behind),
        false => (behind, before),
    };
    let (above, below) = (at - high, low - at);
    if above > below { above } else { below }
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

    /// Each spike of the burst hides the lower one behind it, as far away as is looked.
    #[test]
    fn a_burst_of_spikes_goes_one_behind_another() {
        let clean = steady();
        let mut trace = clean.clone();
        let spikes = [(500, 90.0), (504, 60.0), (508, 30.0)];
        spikes.iter().for_each(|(at, v)| trace[*at] += v);
        let found = find(&trace, RATE, 5.0).unwrap();
        take_all_out(found, &mut trace, RATE, 5.0);
        let off = trace.iter().zip(&clean).map(|(a, b)| (a - b).abs());
        assert!(off.fold(0.0, f64::max) < 0.5);
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
