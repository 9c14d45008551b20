//! Half-waves that sag: behind a high-pass each half-cycle of an alternating trace falls towards zero at one rate, whichever its sign,
//! and the trace has no mean.
//!
//! What has a crest, as a sine wave, is symmetrical about it before and behind a high-pass and tells nothing here.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::health::droop::{CORNERS_HZ, Droop, line};
use crate::recording::health::{HealthCheck, LOOKED_AT};
use crate::recording::source::{CURRENT, Raw};
use crate::stats::order;

/// A cell alternates if it reaches this part of the top on both sides.
const REACHES: f64 = 0.2;
/// The mean of what alternates is none under this part of its height.
pub(super) const NO_MEAN: f64 = 0.03;
/// From this part on it has one; what a low corner takes a while to take away is less.
const A_MEAN: f64 = 0.08;
/// Looked at for this long at a time, s.
const LOOK_S: f64 = 0.06;
/// The middle of a half-wave, this part of it, in this many blocks.
const MIDDLE: f64 = 0.6;
const BLOCKS: usize = 8;
/// Half-waves of each sign at the least.
const LEAST: usize = 6;
/// They sag by this part from one change of sign to the next …
const SAGS: f64 = 0.05;
/// … along an exponential, rms as a part of their height …
const NEAR: f64 = 0.02;
/// … and their corner scatters, and differs from one sign to the other, by no more than this part.
const ALIKE: f64 = 0.2;

/// One half-wave.
#[derive(Debug, Clone, Copy, PartialEq)]
struct HalfWave {
    positive: bool,
    corner_hz: f64,
    lasts_s: f64,
    /// How far from an exponential, rms, as a part of its height.
    off: f64,
}

impl HealthCheck<'_> {
    /// Whether a current with this top alternates and has a mean: behind a high-pass it would soon have none.
    pub(super) fn has_a_mean(&self, top: f64) -> bool {
        let (cells, mean) = self.alternating(CURRENT, top);
        let reach = |c: &&Cell| f64::from(c.amps[1].max(-c.amps[0])) > REACHES * top;
        let busy = self.cells.iter().filter(reach).count();
        2 * cells.len() > busy && mean.is_some_and(|mean| mean > A_MEAN)
    }

    /// The cells in which a trace with this top alternates, and its mean in them as a part of its height.
    pub(super) fn alternating(&self, trace: usize, top: f64) -> (Vec<Cell>, Option<f64>) {
        let reach = |c: &Cell| {
            let [low, high, _] = self.stat(c, trace);
            high.min(-low)
        };
        let cells = self.cells.iter().filter(|c| reach(c) > REACHES * top);
        let cells: Vec<Cell> = cells.copied().collect();
        let sum: f64 = cells.iter().map(|c| self.stat(c, trace)[2]).sum();
        let height: f64 = cells.iter().map(reach).sum();
        let mean = (height > 0.0).then(|| sum.abs() / height);
        (cells, mean)
    }

    /// The corner that the half-waves of a trace with this top sag by.
    pub(super) fn half_waves_sag(&mut self, trace: usize, top: f64) -> Result<Option<Droop>> {
        let (cells, mean) = self.alternating(trace, top);
        if mean.is_none_or(|mean| mean > NO_MEAN) {
            return Ok(None);
        }
        let rate = self.source.rate_hz();
        let (mut found, mut raw) = (Vec::new(), Raw::default());
        for cell in cells
            .iter()
            .step_by(cells.len().div_ceil(LOOKED_AT / 2).max(1))
        {
            let segments = self.source.segments();
            let one = segments
                .iter()
                .find(|s| s.first <= cell.first && cell.first < s.first + s.frames);
            let Some(segment) = one else { continue };
            let last = cell.first + (LOOK_S * rate) as u64;
            let last = last.min(segment.first + segment.frames);
            self.source.read(cell.first..last, &mut raw)?;
            let gain = self.scales[trace].gain;
            raw[trace].iter_mut().for_each(|v| *v *= gain);
            self.zeros[trace].subtract(cell.first, &mut raw[trace]);
            found.extend(half_waves(&raw[trace], rate, 0.5 * REACHES * top));
        }
        Ok(sag(&found))
    }
}

/// The whole half-waves of a row of samples: from one change of sign, over `level`, to the next.
fn half_waves(values: &[f64], rate_hz: f64, level: f64) -> Vec<HalfWave> {
    let mut changes: Vec<(usize, bool)> = Vec::new();
    for (k, x) in values.iter().enumerate().filter(|(_, x)| x.abs() > level) {
        if changes.last().is_none_or(|last| last.1 != (*x > 0.0)) {
            changes.push((k, *x > 0.0));
        }
    }
    // The first began before the row.
    let halves = changes.windows(2).skip(1);
    halves
        .filter_map(|w| {
            let (from, to, positive) = (w[0].0, w[1].0, w[0].1);
            let edge = (0.5 * (1.0 - MIDDLE) * (to - from) as f64).ceil() as usize;
            let middle = values.get(from + edge..to - edge)?;
            let block = middle.len() / BLOCKS;
            let blocks = middle.chunks_exact(block.max(1));
            let means = blocks.map(|c| c.iter().sum::<f64>() / c.len() as f64);
            let means: Vec<f64> = means.collect();
            let line = line(&means, block as f64 / rate_hz).filter(|_| block > 0)?;
            Some(HalfWave {
                positive,
                corner_hz: line.corner_hz,
                lasts_s: (to - from) as f64 / rate_hz,
                off: line.left / means[0].abs(),
            })
        })
        .collect()
}

/// What half-waves of both signs agree on.
fn sag(found: &[HalfWave]) -> Option<Droop> {
    let of_sign = |positive: bool| -> Option<Droop> {
        let own: Vec<&HalfWave> = found.iter().filter(|h| h.positive == positive).collect();
        let median = |of: &dyn Fn(&HalfWave) -> f64| {
            order::median_in_place(&mut own.iter().map(|h| of(h)).collect::<Vec<f64>>())
        };
        let corner_hz = median(&|h| h.corner_hz)?;
        let scatter = median(&|h| (h.corner_hz / corner_hz - 1.0).abs())?;
        let falls = 1.0 - (-std::f64::consts::TAU * corner_hz * median(&|h| h.lasts_s)?).exp();
        let told = own.len() >= LEAST
            && (CORNERS_HZ.0..CORNERS_HZ.1).contains(&corner_hz)
            && scatter <= ALIKE
            && falls >= SAGS
            && median(&|h| h.off)? <= NEAR;
        told.then_some(Droop {
            corner_hz,
            error: scatter,
        })
    };
    let (a, b) = (of_sign(true)?, of_sign(false)?);
    let corner_hz = 0.5 * (a.corner_hz + b.corner_hz);
    // Too rough to be named: a machine's own sag lies on it.
    let error = a.error.max(b.error).max(ALIKE);
    let alike = (a.corner_hz - b.corner_hz).abs() <= ALIKE * corner_hz;
    alike.then_some(Droop { corner_hz, error })
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    /// 0.2 s of a wave given by its phase, behind a first-order high-pass (bilinear, exact to the corner over the rate).
    fn behind(corner_hz: f64, wave: impl Fn(f64) -> f64) -> Vec<f64> {
        let w = std::f64::consts::PI * corner_hz / RATE_HZ;
        let (mut x, mut y) = (0.0, 0.0);
        let made = (0..(0.5 * RATE_HZ) as usize).map(|k| {
            let next = wave((f64::from(k as u32) * 90.0 / RATE_HZ).fract());
            y = ((1.0 - w) * y + next - x) / (1.0 + w);
            x = next;
            y
        });
        made.skip((0.3 * RATE_HZ) as usize).collect()
    }

    fn square(phase: f64) -> f64 {
        if phase < 0.5 { 100.0 } else { -100.0 }
    }

    /// Closed form: each half-wave falls with exp(−2πf·t).
    #[test]
    fn half_waves_that_sag_alike_tell_the_corner() {
        for hz in [3.0, 8.0, 15.0] {
            let seen = sag(&half_waves(&behind(hz, square), RATE_HZ, 10.0)).unwrap();
            assert!((seen.corner_hz / hz - 1.0).abs() < 0.02, "{seen:?}");
        }
    }

    #[test]
    fn flat_half_waves_and_crests_do_not_sag() {
        let sine = |phase: f64| 100.0 * (std::f64::consts::TAU * phase).sin();
        for wave in [behind(0.0, square), behind(0.0, sine), behind(12.0, sine)] {
            assert_eq!(sag(&half_waves(&wave, RATE_HZ, 10.0)), None);
        }
    }

    /// A machine whose positive half-waves alone sag.
    #[test]
    fn one_sign_that_sags_is_the_machine_s() {
        let uneven = |phase: f64| {
            if phase < 0.5 {
                100.0 * (-0.6 * phase).exp()
            } else {
                -87.0
            }
        };
        assert_eq!(sag(&half_waves(&behind(0.0, uneven), RATE_HZ, 10.0)), None);
    }
}
