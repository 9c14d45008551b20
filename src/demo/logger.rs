//! What a real logger makes of a clean trace: noise, offset, hum, ignition hash, coupling, clipping, quantisation.

use std::f64::consts::TAU;

use crate::chance::Chance;
use crate::fault::Fault;
use crate::setting::Setting;

/// Ringing of the ignition hash as it gets into a logger, Hz.
const HASH_HZ: f64 = 1.3e6;
/// It dies with this time constant, s …
const HASH_TAU_S: f64 = 8e-6;
/// … and is nothing after this long, s.
const HASH_LASTS_S: f64 = 45e-6;
/// Turns of a ring in a filtered input.
const LONG_RING_TURNS: f64 = 5.0;
/// Third harmonic of the hum over its fundamental.
const HUM_THIRD: f64 = 0.3;

/// A logger and what is wrong with it.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggerModel {
    /// The current.
    pub amps: ChannelModel,
    /// The voltage.
    pub volts: ChannelModel,
    /// Bits of a sample; `None` keeps every digit.
    pub bits: Option<u32>,
}

/// One channel and what is wrong with it, in its unit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ChannelModel {
    /// The trace is cut off at plus and minus this; 0 never cuts.
    pub full_scale: f64,
    /// White noise, rms.
    pub noise: f64,
    /// Constant error.
    pub offset: f64,
    /// Error that grows with time, per second.
    pub drift_per_s: f64,
    /// Mains hum, amplitude.
    pub hum: f64,
    /// Ignition hash, peak.
    pub hf_noise: f64,
    /// What a burst of it looks like.
    pub hf_shape: HfShape,
    /// What else is in the trace, put in in this order.
    pub faults: Vec<Fault>,
    /// Corner of a high-pass input, Hz.
    pub high_pass_hz: Option<f64>,
    /// The trace comes this late, s: a channel that is sampled after the other, or filtered more.
    pub late_s: f64,
}

/// What a logger makes of one ignition burst.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum HfShape {
    /// A ring that is over within 45 µs.
    #[default]
    Ring,
    /// A slower ring that is over after this long, s: an input with a filter.
    LongRing(f64),
    /// A spike of one sign that is over after this long, s.
    Unipolar(f64),
}

impl HfShape {
    /// How long it lasts, s.
    fn lasts_s(self) -> f64 {
        match self {
            HfShape::Ring => HASH_LASTS_S,
            HfShape::LongRing(lasts_s) | HfShape::Unipolar(lasts_s) => lasts_s,
        }
    }

    /// Its value a while after its beginning, 1 at most.
    fn at(self, since_s: f64, phase: f64) -> f64 {
        match self {
            HfShape::Ring => {
                libm::exp(-since_s / HASH_TAU_S) * libm::sin(TAU * HASH_HZ * since_s + phase)
            }
            HfShape::LongRing(lasts_s) => {
                libm::exp(-4.0 * since_s / lasts_s)
                    * libm::sin(TAU * LONG_RING_TURNS * since_s / lasts_s + phase)
            }
            HfShape::Unipolar(lasts_s) => {
                libm::exp(-4.0 * since_s / lasts_s) * if phase < TAU / 2.0 { 1.0 } else { -1.0 }
            }
        }
    }
}

impl LoggerModel {
    /// One that adds nothing.
    pub fn perfect() -> Self {
        LoggerModel {
            amps: ChannelModel::default(),
            volts: ChannelModel::default(),
            bits: None,
        }
    }

    /// A decent one: noise in percent of full scale, small offsets and hum, ignition hash, 16 bits.
    pub fn decent(full_scale_a: f64, full_scale_v: f64, noise_pct: f64) -> Self {
        let channel = |full_scale: f64| ChannelModel {
            full_scale,
            noise: noise_pct / 100.0 * full_scale,
            offset: 0.002 * full_scale,
            hum: 0.0002 * full_scale,
            hf_noise: 0.25 * full_scale,
            ..ChannelModel::default()
        };
        LoggerModel {
            amps: channel(full_scale_a),
            volts: channel(full_scale_v),
            bits: Some(16),
        }
    }
}

impl ChannelModel {
    /// Soils a clean trace in place.
    pub(super) fn record(&self, trace: &mut [f64], setting: &Setting<'_>, chance: &mut Chance) {
        self.pick_up_hash(trace, setting, chance);
        delay(trace, self.late_s * setting.rate_hz);
        self.add_slow_errors(trace, setting, chance);
        for fault in &self.faults {
            fault.put(trace, setting, chance);
        }
        for pair in trace.chunks_mut(2) {
            let (a, b) = chance.normals();
            pair[0] += self.noise * a;
            if let Some(second) = pair.get_mut(1) {
                *second += self.noise * b;
            }
        }
        if let Some(corner_hz) = self.high_pass_hz {
            high_pass(trace, corner_hz, setting.rate_hz);
        }
        if self.full_scale > 0.0 {
            self.convert(trace, setting.bits);
        }
    }

    fn pick_up_hash(&self, trace: &mut [f64], setting: &Setting<'_>, chance: &mut Chance) {
        for burst in setting.bursts_s {
            let peak = self.hf_noise * chance.between(0.3, 1.0);
            let phase = chance.between(0.0, TAU);
            let first = libm::ceil(burst * setting.rate_hz) as usize;
            let last = libm::floor((burst + self.hf_shape.lasts_s()) * setting.rate_hz) as usize;
            for k in first..=last.min(trace.len().saturating_sub(1)) {
                let since = k as f64 / setting.rate_hz - burst;
                trace[k] += peak * self.hf_shape.at(since, phase);
            }
        }
    }

    fn add_slow_errors(&self, trace: &mut [f64], setting: &Setting<'_>, chance: &mut Chance) {
        let phase = chance.between(0.0, TAU);
        for (k, x) in trace.iter_mut().enumerate() {
            let t = k as f64 / setting.rate_hz;
            *x += self.offset + self.drift_per_s * t;
            if self.hum > 0.0 {
                let angle = TAU * setting.mains_hz * t + phase;
                *x += self.hum * (libm::sin(angle) + HUM_THIRD * libm::sin(3.0 * angle));
            }
        }
    }

    /// Rounds to the converter's steps and cuts off at its ends.
    fn convert(&self, trace: &mut [f64], bits: Option<u32>) {
        for x in trace.iter_mut() {
            *x = match bits {
                Some(bits) => {
                    let steps = f64::from(1u32 << (bits - 1));
                    libm::rint(*x / self.full_scale * steps).clamp(-steps, steps - 1.0) / steps
                        * self.full_scale
                }
                None => x.clamp(-self.full_scale, self.full_scale),
            };
        }
    }
}

/// Moves a trace back by this many samples, straight between them; what it was before its beginning is its first value.
fn delay(trace: &mut [f64], samples: f64) {
    if samples == 0.0 {
        return;
    }
    let (whole, part) = (
        libm::floor(samples) as usize,
        samples - libm::floor(samples),
    );
    let first = trace.first().copied().unwrap_or(0.0);
    for k in (0..trace.len()).rev() {
        let before = |steps: usize| k.checked_sub(steps).map_or(first, |at| trace[at]);
        trace[k] = before(whole) + part * (before(whole + 1) - before(whole));
    }
}

/// First-order high-pass, bilinear, from rest.
fn high_pass(trace: &mut [f64], corner_hz: f64, rate_hz: f64) {
    let k = libm::tan(std::f64::consts::PI * corner_hz / rate_hz);
    let (gain, feedback) = (1.0 / (1.0 + k), (1.0 - k) / (1.0 + k));
    let (mut before, mut out) = (0.0, 0.0);
    for x in trace.iter_mut() {
        out = gain * (*x - before) + feedback * out;
        before = *x;
        *x = out;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn setting(bursts_s: &[f64]) -> Setting<'_> {
        Setting {
            rate_hz: 20_000.0,
            mains_hz: 50.0,
            bursts_s,
            on_s: &[],
            arcs_s: &[],
            bits: Some(16),
        }
    }

    #[test]
    fn a_perfect_logger_changes_nothing() {
        let clean = vec![1.25, -3.0, 17.125];
        let mut trace = clean.clone();
        LoggerModel::perfect()
            .amps
            .record(&mut trace, &setting(&[0.0]), &mut Chance::new(1, 0));
        assert_eq!(trace, clean);
    }

    #[test]
    fn values_stand_on_the_steps_of_the_converter_and_inside_its_ends() {
        let model = LoggerModel::decent(300.0, 120.0, 0.5);
        let mut trace = vec![0.0, 12.0, 299.9, 500.0, -500.0];
        model
            .amps
            .record(&mut trace, &setting(&[]), &mut Chance::new(1, 0));
        for x in trace {
            let steps = x / 300.0 * 32768.0;
            assert_eq!(steps, steps.round());
            assert!((-32768.0..=32767.0).contains(&steps));
        }
    }

    #[test]
    fn hash_is_over_within_fifty_microseconds() {
        let model = ChannelModel {
            hf_noise: 100.0,
            ..ChannelModel::default()
        };
        let mut trace = vec![0.0; 400];
        let bursts = [0.005];
        model.record(&mut trace, &setting(&bursts), &mut Chance::new(3, 0));
        let hit: Vec<usize> = (0..400).filter(|k| trace[*k].abs() > 0.0).collect();
        assert_eq!(hit, [100]);
    }

    #[test]
    fn a_late_channel_shows_a_ramp_that_much_later() {
        let mut trace: Vec<f64> = (0..100).map(f64::from).collect();
        delay(&mut trace, 2.25);
        assert_eq!(trace[..3], [0.0, 0.0, 0.0]);
        assert!((3..100).all(|k| trace[k] == k as f64 - 2.25));
    }

    #[test]
    fn a_high_pass_input_loses_a_constant() {
        let mut trace = vec![100.0; 40_000];
        high_pass(&mut trace, 2.0, 20_000.0);
        // One time constant, 1/(2π·2 Hz), after the step a first-order section is at 1/e (analytic).
        let at = (20_000.0 / (TAU * 2.0)).round() as usize;
        assert!((trace[at] - 100.0 / std::f64::consts::E).abs() < 0.1);
        assert!(trace[39_999].abs() < 1e-6);
    }
}
