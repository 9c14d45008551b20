//! An alternating current that runs ahead of its voltage.
//!
//! An arc is a resistance: its current and its voltage pass zero together, and where it re-ignites late, or the leads are long, the
//! voltage comes first. Only a high-pass in front of the current alone turns that round, by the arctangent of its corner over the
//! frequency. It is how a sine wave tells it, which has no level that could sag.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::health::droop::{CORNERS_HZ, Droop};
use crate::recording::health::sag::NO_MEAN;
use crate::recording::health::{HealthCheck, LOOKED_AT};
use crate::recording::source::{CURRENT, Raw, VOLTAGE};
use crate::stats::order;

/// Looked at for this long at a time, s …
const LOOK_S: f64 = 0.12;
/// … so often at the least.
const LOOKS: usize = 4;
/// A half-wave counts that reaches this part of the top.
const REACHES: f64 = 0.1;
/// Whole cycles of a look, at the least.
const CYCLES: usize = 3;
/// Ahead by this many degrees and more: a high-pass then takes 1.5 % of the current or more …
const AHEAD_DEG: f64 = 10.0;
/// … in this part of the looks.
const MOST: f64 = 0.75;

impl HealthCheck<'_> {
    /// The corner by which a current with this top runs ahead of its voltage.
    pub(super) fn runs_ahead(&mut self, top: f64) -> Result<Option<Droop>> {
        let (cells, _) = self.alternating(CURRENT, top);
        let rate = self.source.rate_hz();
        let (mut found, mut raw) = (Vec::new(), Raw::default());
        let every = cells.len().div_ceil(LOOKED_AT).max(1);
        for &cell in cells.iter().step_by(every) {
            let last = cell.first + (LOOK_S * rate) as u64;
            let segments = self.source.segments();
            let inside = |s: &&crate::recording::Segment| {
                s.first <= cell.first && last <= s.first + s.frames
            };
            if segments.iter().find(inside).is_none() {
                continue;
            }
            let frames = (last - cell.first) as u32;
            self.samples(&Cell { frames, ..cell }, &mut raw)?;
            found.extend(ahead(&raw[CURRENT], &raw[VOLTAGE], rate, REACHES * top));
        }
        Ok(agreed(&found))
    }
}

/// How far the current is ahead of the voltage, degrees, and its frequency, Hz, over the whole cycles of a row of samples; `None` where
/// it has a mean, which a high-pass leaves none of.
fn ahead(amps: &[f64], volts: &[f64], rate_hz: f64, level: f64) -> Option<[f64; 2]> {
    let mut positive = None;
    let mut rises = Vec::new();
    for (k, x) in amps.iter().enumerate().filter(|(_, x)| x.abs() > level) {
        if positive == Some(false) && *x > 0.0 {
            rises.push(k);
        }
        positive = Some(*x > 0.0);
    }
    let cycles = rises.len().checked_sub(1).filter(|n| *n >= CYCLES)? as f64;
    let (from, to) = (*rises.first()?, *rises.last()?);
    let inside = &amps[from..to];
    let mean = inside.iter().sum::<f64>() / inside.len() as f64;
    let highest = inside.iter().fold(0.0, |top: f64, x| top.max(x.abs()));
    if mean.abs() > NO_MEAN * highest {
        return None;
    }
    let turn = std::f64::consts::TAU * cycles / (to - from) as f64;
    let phase = |values: &[f64]| {
        let sum = values[from..to].iter().enumerate();
        let (cos, sin) = sum.fold((0.0, 0.0), |(cos, sin), (k, x)| {
            let at = turn * k as f64;
            (cos + x * at.cos(), sin + x * at.sin())
        });
        -f64::atan2(sin, cos)
    };
    // A turned lead is half a cycle off: it is another matter.
    let by = (phase(amps) - phase(volts)).to_degrees();
    let by = (by + 90.0).rem_euclid(180.0) - 90.0;
    Some([by, cycles * rate_hz / (to - from) as f64])
}

/// The corner that looks agree on: the tangent of how far the current is ahead, times its frequency.
fn agreed(found: &[[f64; 2]]) -> Option<Droop> {
    let corner = |[by, hz]: &[f64; 2]| by.to_radians().tan() * hz;
    let corner_hz = order::median_in_place(&mut found.iter().map(corner).collect::<Vec<f64>>())?;
    let mut offs: Vec<f64> = found.iter().map(|f| corner(f) / corner_hz - 1.0).collect();
    let ahead = found.iter().filter(|f| f[0] >= AHEAD_DEG).count() as f64;
    let told = found.len() >= LOOKS
        && ahead >= MOST * found.len() as f64
        && (CORNERS_HZ.0..CORNERS_HZ.1).contains(&corner_hz);
    offs.iter_mut().for_each(|off| *off = off.abs());
    let error = order::median_in_place(&mut offs)?;
    // Too rough to be named: what is ahead of what, and not by how much, is sure.
    told.then_some(Droop {
        corner_hz,
        error: error.max(0.1),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 20_000.0;

    /// A sine wave of 51 Hz that is ahead by this many degrees of what an arc makes of the one that is not: 12 V, whichever way.
    fn looks(by_deg: f64) -> Vec<[f64; 2]> {
        let look = |from: f64| {
            let phase = |k: u32| std::f64::consts::TAU * (51.0 * f64::from(k) / RATE_HZ + from);
            let amps: Vec<f64> = (0..2400)
                .map(|k| 80.0 * (phase(k) + by_deg.to_radians()).sin())
                .collect();
            let volts: Vec<f64> = (0..2400)
                .map(|k| 12.0_f64.copysign(phase(k).sin()))
                .collect();
            ahead(&amps, &volts, RATE_HZ, 8.0).unwrap()
        };
        [0.0, 0.21, 0.37, 0.64, 0.9].map(look).to_vec()
    }

    /// The phase of a first-order high-pass in closed form: atan(corner / frequency).
    #[test]
    fn a_sine_wave_behind_a_high_pass_of_its_own_tells_the_corner() {
        for corner_hz in [10.0_f64, 15.0, 20.0] {
            let by_deg = (corner_hz / 51.0).atan().to_degrees();
            let seen = agreed(&looks(by_deg)).unwrap();
            assert!((seen.corner_hz / corner_hz - 1.0).abs() < 0.05, "{seen:?}");
        }
    }

    /// A turned lead, a current behind its voltage as leads make it, and one that is ahead by less than 2 % of its height.
    #[test]
    fn a_current_with_its_voltage_or_behind_it_is_not_blocked() {
        for by_deg in [0.0, 180.0, -15.0, 165.0, 7.0] {
            assert_eq!(agreed(&looks(by_deg)), None, "{by_deg}");
        }
        assert_eq!(agreed(&looks(14.0)[..3]), None, "too few looks");
        let wave =
            |by: f64, k: u32| (std::f64::consts::TAU * 51.0 * f64::from(k) / RATE_HZ + by).sin();
        let uneven: Vec<f64> = (0..2400).map(|k| 80.0 * wave(0.25, k) + 10.0).collect();
        let volts: Vec<f64> = (0..2400).map(|k| wave(0.0, k)).collect();
        assert_eq!(ahead(&uneven, &volts, RATE_HZ, 8.0), None, "it has a mean");
    }
}
