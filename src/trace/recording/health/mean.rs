//! The mean of an alternating trace, which dies away behind a high-pass wherever the current begins.
//!
//! A machine holds its balance: what it adds to one half-cycle it adds to all that follow. A high-pass takes the mean away, along a
//! clean exponential with its own time constant, at every strike alike. So it does with what an open circuit leaves in a voltage.

use crate::error::Result;
use crate::recording::health::HealthCheck;
use crate::recording::health::decay::{Behind, decay, of_row};
use crate::recording::health::droop::Droop;
use crate::recording::source::{CURRENT, Raw, VOLTAGE};

/// A cell alternates that reaches this part of the top to either side; so do half-waves.
const REACHES: f64 = 0.2;
/// Looked at behind the beginning of what alternates, s.
const LOOK_S: f64 = 0.5;
/// Cells that alternate up to this many after others go on with them.
const PAUSE: usize = 2;
/// Whole cycles at the least.
const CYCLES: usize = 6;
/// A mean that falls by less than this part stands, by more than that it dies away.
const STANDS: f64 = 0.15;
const DIES: f64 = 0.6;
/// Too rough to be named: a pre-arc current of one sign lies on it.
const ROUGH: f64 = 0.1;

impl HealthCheck<'_> {
    /// The corner by which the mean of a trace with this top dies away behind its strikes.
    pub(super) fn mean_dies(&mut self, trace: usize, top: f64) -> Result<Option<Droop>> {
        // The current tells the cycles: what is left of an open circuit may hold the voltage to one side.
        let (low, high) = self.extremes(CURRENT);
        let most = high.max(-low);
        let begins = self.alternations(CURRENT, most);
        let rate = self.source.rate_hz();
        let own = |trace: usize, raw: &Raw| -> Vec<f64> {
            // A later zero follows what the high-pass leaves of an arc.
            let (gain, zero) = (self.scales[trace].gain, self.zeros[trace].at(0));
            raw[trace].iter().map(|v| v * gain - zero).collect()
        };
        let (mut found, mut raw): (Vec<Behind>, Raw) = Default::default();
        for look in self.looks(&begins, LOOK_S) {
            self.source.read(look, &mut raw)?;
            let cycles = cycles(&own(CURRENT, &raw), REACHES * most);
            found.extend(by_cycles(&own(trace, &raw), &cycles, rate, top));
        }
        if trace == VOLTAGE {
            // While it warms up an arc's own mean falls a little.
            found.retain(|behind| behind.falls < STANDS || behind.falls > DIES);
        }
        let droop = decay(&found);
        Ok(droop.map(|droop| Droop {
            error: droop.error.max(ROUGH),
            ..droop
        }))
    }

    /// First frames of the cells in which a trace with this top begins to alternate.
    fn alternations(&self, trace: usize, top: f64) -> Vec<u64> {
        let mut still = PAUSE + 1;
        let mut begins = Vec::new();
        for cell in self.cells {
            let [low, high, _] = self.stat(cell, trace);
            match high.min(-low) > REACHES * top {
                true => {
                    if still > PAUSE {
                        begins.push(cell.first);
                    }
                    still = 0;
                }
                false => still += 1,
            }
        }
        begins
    }
}

/// Where the cycles of an alternating row of samples begin: where it passes this level behind a half-cycle below zero.
fn cycles(values: &[f64], level: f64) -> Vec<usize> {
    let mut rises = Vec::new();
    let mut negative = false;
    for (k, x) in values.iter().enumerate() {
        if x.abs() > level {
            if negative && *x > 0.0 {
                rises.push(k);
            }
            negative = *x < 0.0;
        }
    }
    rises
}

/// How the mean over whole cycles, by where they begin, goes on in a row of samples with this top.
fn by_cycles(values: &[f64], begins: &[usize], rate_hz: f64, top: f64) -> Option<Behind> {
    let count = begins.len().checked_sub(1).filter(|n| *n >= CYCLES)?;
    let mean = |w: &[usize]| values[w[0]..w[1]].iter().sum::<f64>() / (w[1] - w[0]) as f64;
    let means: Vec<f64> = begins.windows(2).map(mean).collect();
    let cycle_s = (begins[count] - begins[0]) as f64 / count as f64 / rate_hz;
    of_row(&means, cycle_s, top)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 20_000.0;

    fn seen(values: &[f64], top: f64) -> Option<Behind> {
        by_cycles(values, &cycles(values, REACHES * top), RATE_HZ, top)
    }

    /// 100 Hz, 65 % of the time one way: a mean of 30 A, seen behind a first-order high-pass (closed form: its mean falls with
    /// exp(−2πf·t)).
    fn unbalanced(corner_hz: f64) -> Vec<f64> {
        let at = |k: u32| {
            let t = f64::from(k) / RATE_HZ;
            let wave = if (100.0 * t).fract() < 0.65 {
                70.0
            } else {
                -130.0
            };
            wave + 30.0 * (-std::f64::consts::TAU * corner_hz * t).exp()
        };
        (0..10_000).map(at).collect()
    }

    #[test]
    fn a_mean_that_dies_away_at_every_strike_tells_the_corner() {
        for hz in [1.2, 3.0, 5.0] {
            let found = [0, 1].map(|_| seen(&unbalanced(hz), 130.0).unwrap());
            let droop = decay(&found).unwrap();
            assert!((droop.corner_hz / hz - 1.0).abs() < ROUGH, "{droop:?}");
        }
    }

    /// An arc of 12 V to either side in the 40 V that a high-pass of 2 Hz leaves of an open circuit: it does not change its sign at first.
    #[test]
    fn what_an_open_circuit_leaves_in_the_voltage_is_timed_by_the_current() {
        let current = unbalanced(0.0);
        let volts = |k: usize| {
            let left = -40.0 * (-std::f64::consts::TAU * 2.0 * k as f64 / RATE_HZ).exp();
            left - 12.0 * current[k].signum()
        };
        let volts: Vec<f64> = (0..current.len()).map(volts).collect();
        let cycles = cycles(&current, REACHES * 130.0);
        let behind = by_cycles(&volts, &cycles, RATE_HZ, 90.0).unwrap();
        assert!(behind.falls > DIES, "{behind:?}");
    }

    /// A balanced current, one whose mean stays, and one that the machine balances within 60 ms once.
    #[test]
    fn a_mean_that_stays_is_the_machines() {
        let stays = seen(&unbalanced(0.0), 130.0);
        let found: Vec<Behind> = stays.into_iter().collect();
        assert_eq!(decay(&found.repeat(3)), None);
        let once = seen(&unbalanced(3.0), 130.0);
        assert_eq!(decay(&once.into_iter().collect::<Vec<_>>()), None);
    }
}
