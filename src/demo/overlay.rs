//! What is laid over the circuit's traces: ripple, the ignition's discharge, the voltage over the leads.

use std::f64::consts::PI;

use crate::circuit::Fine;
use crate::scenario::{Ripple, Strike};

/// Lets the current ripple, and the arc's voltage with it along its slope.
pub(super) fn ripple(fine: &mut Fine, ripple: Ripple, slope_v_per_a: f64) {
    for k in 0..fine.amps.len() {
        let more = fine.amps[k] * (ripple.at(k as f64 * fine.dt) - 1.0);
        fine.amps[k] += more;
        if fine.arcing[k] {
            fine.volts[k] += slope_v_per_a * more;
        }
    }
}

/// What a perfect logger sees besides the arc: not part of the current whose truth is stated.
pub(super) fn besides(fine: &mut Fine, strike: &Strike) {
    if let Some(discharge) = strike.discharge
        && fine.strike_s.is_finite()
    {
        let first = libm::ceil(fine.strike_s / fine.dt) as usize;
        let count = (discharge.lasts_s / fine.dt) as usize;
        for (k, i) in fine.amps[first..].iter_mut().take(count).enumerate() {
            *i += discharge.amps * libm::sin(PI * k as f64 * fine.dt / discharge.lasts_s);
        }
    }
    if strike.lead_ohm > 0.0 {
        for (v, i) in fine.volts.iter_mut().zip(&fine.amps) {
            *v += strike.lead_ohm * i;
        }
    }
}
