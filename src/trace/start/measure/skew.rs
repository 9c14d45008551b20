//! Detects a time shift between current and voltage by the cross-spectrum of the strikes (docs/measures.md).

use rustfft::num_complex::Complex;

use crate::error::Result;
use crate::job::measuring::Measuring;
use crate::recording::{Block, Finding, Lag, OPEN_OVER_ARC, Recording, Seen};
use crate::start::Start;
use crate::start::find::levels::Levels;
use crate::start::find::scan::hf_noise_frames;
use crate::start::measure::spectrum::{cross_correlation, cross_density, peak, welch};
use crate::stats::order;

/// Half-width of the window around a strike, s.
const REACH_S: f64 = 0.04;
/// Longest delay searched for, s: half the window's reach, so that both edges lie well inside.
const LONGEST_S: f64 = 0.5 * REACH_S;
/// Maximum number of strikes used, spread over the recording.
const STRIKES: usize = 64;
/// Minimum correlation for the edges of both traces to be one event.
const MIN_CORRELATION: f64 = 0.3;
/// Longest pause of the current that counts as a reversal or stutter instead of an end, s.
const PAUSE_S: f64 = 5e-3;
/// Time a machine may take from breakdown until its current rises and the voltage falls, s.
const ALLOWED_S: f64 = 0.5e-3;
/// Tolerance in samples: each edge lies somewhere within a sample interval.
const ALLOWED_SAMPLES: f64 = 2.0;

/// Time shift between current and voltage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Skew {
    /// Delay of the current behind the voltage, s; negative if the current comes first.
    pub current_late_s: f64,
    /// Delay explained by the arc and the sample rate, s.
    pub allowed_s: f64,
    /// Number of strikes used.
    pub strikes: usize,
    /// Whether the machine itself may delay the current: on touch starts the voltage is gone before the machine
    /// responds.
    may_wait: bool,
}

impl Skew {
    /// Returns a finding if the delay exceeds what the arc and the sample rate explain.
    pub fn finding(&self) -> Option<Finding> {
        let beyond = self.current_late_s.abs() > self.allowed_s;
        let waits = self.may_wait && self.current_late_s > 0.0;
        let (late, early) = match self.current_late_s > 0.0 {
            true => ("current", "voltage"),
            false => ("voltage", "current"),
        };
        let lag = Lag {
            late: late.to_owned(),
            early: early.to_owned(),
            by_ms: 1e3 * self.current_late_s.abs(),
            strikes: self.strikes,
            allowed_ms: 1e3 * self.allowed_s,
        };
        (beyond && !waits).then(|| Finding::new(Seen::Skew(lag)))
    }
}

/// Measures the time from the fall of the voltage to the first current over the strikes of a recording; `None`
/// without a voltage trace, without an isolated strike, or if the two edges do not belong together.
///
/// At breakdown the gap turns from an insulator into a conductor: the voltage falls and the current begins at the
/// same instant, whatever either does afterwards. So each trace is reduced to that edge before they are correlated.
///
/// # Errors
/// Read errors of the recording.
pub fn skew(
    recording: &Recording,
    measuring: &Measuring,
    starts: &[Start],
) -> Result<Option<Skew>> {
    let levels = Levels::of(recording.survey(), measuring);
    let rate = recording.rate_hz();
    let reach = (REACH_S * rate) as u64;
    if !recording.has_volts() || reach <= hf_noise_frames(rate) {
        return Ok(None);
    }
    let struck: Vec<&Start> = starts
        .iter()
        .filter(|s| s.instants.t_first_s.is_some())
        .collect();
    let mut sum = Edges::default();
    let (mut block, mut rises) = (Block::default(), Vec::new());
    for start in struck.iter().step_by(struck.len().div_ceil(STRIKES).max(1)) {
        let Some(range) = window(recording, start, reach) else {
            continue;
        };
        recording.read(range, &mut block)?;
        let [volts, amps] = [&block.volts, &block.amps].map(|trace| without_hash(trace, rate));
        if let Some(falls) = falls(&volts) {
            let flow = flow(&amps, levels.conduct_a, (PAUSE_S * rate) as usize);
            rises.extend(rise(&flow));
            sum.add(&falls, &ups(&flow), rate);
        }
    }
    let by_touch = struck
        .iter()
        .filter(|s| s.instants.t_open_s.is_none())
        .count();
    // A voltage as low as the arc's before it is that of a machine that is struck by touching.
    let sight = recording.survey().sight.unwrap_or_default();
    let low = sight
        .open_v
        .zip(sight.arc_v)
        .is_some_and(|(open, arc)| open <= OPEN_OVER_ARC * arc);
    // A slowly rising current, such as a triangle, is late at its levels by itself: at half the conduct level by as
    // much as it takes from there to the full level.
    let rise = 2.0 * order::median_in_place(&mut rises).unwrap_or(0.0);
    Ok(sum.delay(rate).map(|samples| Skew {
        current_late_s: samples / rate,
        allowed_s: ALLOWED_S + (ALLOWED_SAMPLES + if samples > 0.0 { rise } else { 0.0 }) / rate,
        strikes: sum.strikes,
        may_wait: low || 2 * by_touch > struck.len(),
    }))
}

/// Frames around the first current of a start, if they lie within one segment.
fn window(recording: &Recording, start: &Start, reach: u64) -> Option<std::ops::Range<u64>> {
    let first_s = start.instants.t_first_s?;
    let segment = recording.segments().iter().rfind(|s| s.from_s <= first_s)?;
    let at = segment.first + ((first_s - segment.from_s) * recording.rate_hz()) as u64;
    let range = at.checked_sub(reach)?..at + reach;
    let inside = range.start >= segment.first && range.end <= segment.first + segment.frames;
    inside.then_some(range)
}

/// Magnitude of a trace without the spikes of the ignition, which both traces show before the strike.
fn without_hash(trace: &[f64], rate_hz: f64) -> Vec<f64> {
    let magnitude: Vec<f64> = trace.iter().map(|x| x.abs()).collect();
    order::running_median(&magnitude, hf_noise_frames(rate_hz) as usize)
}

/// Fraction of the voltage before the strike that falls at each step; 1 in total once it is gone.
fn falls(volts: &[f64]) -> Option<Vec<f64>> {
    let before = &volts[..volts.len() / 2];
    let level = before.iter().fold(0.0, |a, b| f64::max(a, *b));
    // From three quarters of that level down to one quarter.
    let gone = |v: &f64| 1.0 - ((v / level - 0.25) / 0.5).clamp(0.0, 1.0);
    (level > 0.0).then(|| ups(&volts.iter().map(gone).collect::<Vec<_>>()))
}

/// Fraction of the conduct level that the current reaches: 0 up to half of it, which is three standard deviations of
/// the noise, and 1 from the full level on; pauses of up to `pause` samples are bridged.
fn flow(amps: &[f64], conduct_a: f64, pause: usize) -> Vec<f64> {
    let part = |i: &f64| ((i / conduct_a - 0.5) / 0.5).clamp(0.0, 1.0);
    let parts: Vec<f64> = amps.iter().map(part).collect();
    // The last sample at the full level holds the state up; samples below it count for themselves.
    let mut last = None;
    let held = parts.iter().enumerate().map(|(k, part)| {
        if *part >= 1.0 {
            last = Some(k);
        }
        match last {
            Some(at) if k - at <= pause => 1.0,
            _ => *part,
        }
    });
    held.collect()
}

/// Number of samples from half the conduct level to the full level, where it is first reached.
fn rise(flow: &[f64]) -> Option<f64> {
    let whole = flow.iter().position(|part| *part >= 1.0)?;
    let half = flow[..whole].iter().rposition(|part| *part <= 0.0)?;
    Some((whole - half) as f64)
}

/// Upward steps of a trace.
fn ups(trace: &[f64]) -> Vec<f64> {
    let before = trace[..1].iter().chain(trace);
    trace
        .iter()
        .zip(before)
        .map(|(b, a)| (b - a).max(0.0))
        .collect()
}

/// Spectra of the edges of both traces, summed over strikes. Memory grows with the data instead of following the
/// stated rate.
#[derive(Default)]
struct Edges {
    cross: Vec<Complex<f64>>,
    power: [f64; 2],
    strikes: usize,
}

impl Edges {
    fn add(&mut self, falls: &[f64], flows: &[f64], rate_hz: f64) {
        let n = falls.len();
        self.cross.resize(n / 2 + 1, Complex::default());
        for (sum, p) in self
            .cross
            .iter_mut()
            .zip(cross_density(falls, flows, rate_hz, n))
        {
            *sum += p;
        }
        for (sum, trace) in self.power.iter_mut().zip([falls, flows]) {
            *sum += welch(trace, rate_hz, n).power.iter().sum::<f64>();
        }
        self.strikes += 1;
    }

    /// Delay of the current in samples, from the peak of the cross-correlation and the parabola through it.
    fn delay(&self, rate_hz: f64) -> Option<f64> {
        let n = 2 * self.cross.len().checked_sub(1)?;
        let correlation = cross_correlation(&self.cross, n);
        let most = (LONGEST_S * rate_hz) as i64;
        // One lag beyond the longest on either side, for the parabola.
        let lags: Vec<f64> = (-most - 1..=most + 1)
            .map(|lag| correlation[lag.rem_euclid(n as i64) as usize])
            .collect();
        let top = (1..lags.len() - 1).max_by(|a, b| lags[*a].total_cmp(&lags[*b]))?;
        // The sum of a one-sided density is n times the correlation at lag 0.
        let whole = (self.power[0] * self.power[1]).sqrt() / n as f64;
        let told = whole > 0.0 && lags[top] >= MIN_CORRELATION * whole;
        told.then(|| peak(&lags, top) - (most + 1) as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_says_which_channel_comes_late_and_by_how_much() {
        let found = |late_s: f64, strikes: usize, may_wait: bool| {
            let skew = Skew {
                current_late_s: late_s,
                allowed_s: 0.6e-3,
                strikes,
                may_wait,
            };
            skew.finding().map(|f| f.seen.to_string())
        };
        let says = |seen: Option<String>, words: &str| {
            let seen = seen.expect("a finding");
            assert!(seen.starts_with(words), "{seen}");
        };
        says(
            found(2e-3, 3, false),
            "the current comes 2.00 ms after the voltage over 3 strikes; 0.60 ms",
        );
        says(
            found(-2e-3, 1, false),
            "the voltage comes 2.00 ms after the current over 1 strike; 0.60 ms",
        );
        assert_eq!(found(0.6e-3, 3, false), None);
        // On touch starts the current may wait for the machine, the voltage may not.
        assert_eq!(found(2e-3, 3, true), None);
        assert!(found(-2e-3, 3, true).is_some());
    }

    /// From three quarters of the highest voltage before the strike to one quarter, half of it: each eighth is a quarter of the fall.
    #[test]
    fn a_fall_is_told_in_steps_from_three_quarters_to_one_quarter() {
        let wave = [
            40.0, 36.0, 32.0, 40.0, 35.0, 25.0, 20.0, 15.0, 9.0, 12.0, 4.0,
        ];
        let steps = falls(&wave).unwrap();
        let expected = [0.0, 0.0, 0.0, 0.0, 0.0, 0.25, 0.25, 0.25, 0.25, 0.0, 0.1];
        for (k, (seen, expected)) in steps.iter().zip(expected).enumerate() {
            assert!((seen - expected).abs() < 1e-12, "{k}: {seen}");
        }
        assert_eq!(falls(&[0.0; 8]), None);
    }

    /// Conduct level 2 A; pauses of up to two samples are bridged.
    #[test]
    fn a_flow_is_the_part_of_the_conduct_level_and_holds_over_pauses() {
        let seen = flow(&[0.0, 1.0, 1.5, 2.0, 0.0, 0.0, 0.0, 1.2, 9.0, 0.0], 2.0, 2);
        let expected = [0.0, 0.0, 0.5, 1.0, 1.0, 1.0, 0.0, 0.2, 1.0, 1.0];
        for (k, (seen, expected)) in seen.iter().zip(expected).enumerate() {
            assert!((seen - expected).abs() < 1e-12, "{k}: {seen}");
        }
        assert_eq!(rise(&seen), Some(2.0));
        assert_eq!(rise(&[0.0, 0.5, 0.6]), None);
        assert_eq!(rise(&[0.5, 1.0]), None);
        assert_eq!(ups(&[1.0, 3.0, 2.0, 2.5]), [0.0, 2.0, 0.0, 0.5]);
    }
}
