//! The mean of an alternating current, which dies away behind a high-pass wherever the current begins.
//!
//! A machine holds its balance: what it adds to one half-cycle it adds to all that follow. A high-pass takes the mean away, along a
//! clean exponential with its own time constant, at every strike alike.

use crate::error::Result;
use crate::recording::health::HealthCheck;
use crate::recording::health::decay::{Behind, decay, of_row};
use crate::recording::health::droop::Droop;
use crate::recording::source::Raw;

/// A cell alternates that reaches this part of the top to either side; so do half-waves.
const REACHES: f64 = 0.2;
/// Looked at behind the begin of what alternates, s.
const LOOK_S: f64 = 0.5;
/// Cells that alternate up to so many after others go on with them.
const PAUSE: usize = 2;
/// Whole cycles at the least.
const CYCLES: usize = 6;
/// Too rough to be named: a pre-arc current of one sign lies on it.
const ROUGH: f64 = 0.1;

impl HealthCheck<'_> {
    /// The corner by which the mean of a trace with this top dies away behind its strikes.
    pub(super) fn mean_dies(&mut self, trace: usize, top: f64) -> Result<Option<Droop>> {
        let begins = self.alternations(trace, top);
        let rate = self.source.rate_hz();
        let gain = self.scales[trace].gain;
        // A later one follows what the high-pass leaves of an arc.
        let zero = self.zeros[trace].at(0);
        let (mut found, mut raw): (Vec<Behind>, Raw) = Default::default();
        for look in self.looks(&begins, LOOK_S) {
            self.source.read(look, &mut raw)?;
            raw[trace].iter_mut().for_each(|v| *v = *v * gain - zero);
            found.extend(by_cycles(&raw[trace], rate, top));
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

/// How the mean over whole cycles goes on from the begin of a row of samples.
fn by_cycles(values: &[f64], rate_hz: f64, top: f64) -> Option<Behind> {
    let mut rises: Vec<usize> = Vec::new();
    let mut negative = false;
    for (k, x) in values.iter().enumerate() {
        if x.abs() > REACHES * top {
            if negative && *x > 0.0 {
                rises.push(k);
            }
            negative = *x < 0.0;
        }
    }
    let cycles = rises.len().checked_sub(1).filter(|n| *n >= CYCLES)?;
    let mean = |w: &[usize]| values[w[0]..w[1]].iter().sum::<f64>() / (w[1] - w[0]) as f64;
    let means: Vec<f64> = rises.windows(2).map(mean).collect();
    let cycle_s = (rises[cycles] - rises[0]) as f64 / cycles as f64 / rate_hz;
    of_row(&means, cycle_s, top)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 20_000.0;

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
            let found = [0, 1].map(|_| by_cycles(&unbalanced(hz), RATE_HZ, 130.0).unwrap());
            let seen = decay(&found).unwrap();
            assert!((seen.corner_hz / hz - 1.0).abs() < ROUGH, "{seen:?}");
        }
    }

    /// A balanced current, one whose mean stays, and one that the machine balances within 60 ms once.
    #[test]
    fn a_mean_that_stays_is_the_machines() {
        let stays = by_cycles(&unbalanced(0.0), RATE_HZ, 130.0);
        let found: Vec<Behind> = stays.into_iter().collect();
        assert_eq!(decay(&found.repeat(3)), None);
        let once = by_cycles(&unbalanced(3.0), RATE_HZ, 130.0);
        assert_eq!(decay(&once.into_iter().collect::<Vec<_>>()), None);
    }
}
