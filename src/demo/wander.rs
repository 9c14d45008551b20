//! Arc-length wander: a sum of tones, scaled so that its rms over the measured window is exactly what was asked.

use std::f64::consts::TAU;

use crate::chance::Chance;
use crate::circuit::Fine;
use crate::scenario::Wander;
use crate::truth::TruthStart;

/// Measured until this long after lit, s.
const OBSERVE_S: f64 = 1.0;
/// Under this current the column is too small for its length to show, A.
const FADE_A: f64 = 2.0;

/// Adds wander to the voltage wherever an arc burns; instants of `truth` are seconds from the first value.
pub(super) fn add(fine: &mut Fine, wander: &Wander, truth: &TruthStart, chance: &mut Chance) {
    let (Some(settled), Some(lit), Some(out)) = (truth.t_settled_s, truth.t_lit_s, truth.t_out_s)
    else {
        return;
    };
    if wander.v_rms == 0.0 || wander.tones_hz.is_empty() {
        return;
    }
    let tones = tones(fine, wander, chance);
    let from = (settled / fine.dt).ceil() as usize;
    let to = ((lit + OBSERVE_S).min(out) / fine.dt) as usize;
    let scale = wander.v_rms / rms_about_mean(&tones[from..to.max(from + 2)]);
    for (k, tone) in tones.iter().enumerate() {
        if fine.arcing[k] {
            let amps = fine.amps[k];
            let part = (amps.abs() / FADE_A).min(1.0);
            fine.volts[k] += scale * part * tone * 1f64.copysign(amps);
        }
    }
}

/// The tones' sum at every value, each by turning a phasor step by step.
fn tones(fine: &Fine, wander: &Wander, chance: &mut Chance) -> Vec<f64> {
    let mut sum = vec![0.0; fine.amps.len()];
    for hz in &wander.tones_hz {
        let (mut sin, mut cos) = libm::sincos(chance.between(0.0, TAU));
        let (s, c) = libm::sincos(TAU * hz * fine.dt);
        for x in &mut sum {
            *x += sin;
            (sin, cos) = (sin * c + cos * s, cos * c - sin * s);
        }
    }
    sum
}

fn rms_about_mean(x: &[f64]) -> f64 {
    let n = x.len() as f64;
    let mean = x.iter().sum::<f64>() / n;
    libm::sqrt(x.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n)
}
