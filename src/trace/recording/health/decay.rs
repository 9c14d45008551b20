//! What a high-pass leaves behind a step: a clean exponential back to zero, with one time constant wherever it is seen.
//!
//! The circuit makes none: an open circuit stands, an arc is as long as it is, a slope is straight, and what is out is out. So few
//! such decays tell a blocked trace, where nothing stands still between steps beside them.

use crate::error::Result;
use crate::recording::baseline::Baseline;
use crate::recording::health::HealthCheck;
use crate::recording::health::droop::{CORNERS_HZ, Droop, between_steps, line};
use crate::recording::source::Raw;
use crate::stats::order;

/// Behind a step the trace is looked at in short blocks, for this long, s.
const BLOCK_S: f64 = 2e-3;
const LONG_S: f64 = 0.12;
/// A change of this part of the trace's top, from cell to cell and from block to block, is a step.
const STEP: f64 = 0.03;
/// A stretch is looked at where it begins with this part of the top …
const LEAST: f64 = 0.02;
/// … for this many blocks …
const BLOCKS: usize = 5;
/// … and until this part of its height is left: what is behind tells of the zero, not of the decay.
const OVER: f64 = 0.1;
/// A decay falls by this part of its height or more …
const FALLS: f64 = 0.15;
/// … and lies so near to an exponential, rms, as a part of its height; behind a first-order high-pass noise alone keeps it off.
const NEAR: f64 = 0.03;
/// A stretch from this part of the top on that falls by less than this part of what a decay would have fallen by, stands still …
const HIGH: f64 = 0.04;
const STANDS: f64 = 0.15;
/// … where that would have shown: as what falls, or by this part of the top.
const SHOWS: f64 = 0.02;
/// Decays agree within this part of their corner …
const AGREE: f64 = 0.08;
/// … this many at the least …
const DECAYS: usize = 2;
/// … and this part of all; what stands still may be this part of them.
const MOST: f64 = 0.65;
const STANDING: f64 = 0.2;

/// A stretch between two steps.
#[derive(Debug, Clone, Copy)]
pub(super) struct Behind {
    /// The corner that its slope over its integral tells.
    corner_hz: f64,
    /// How long, s.
    lasts_s: f64,
    /// Where it begins over the trace's top.
    height: f64,
    /// By which part of that it falls.
    pub(super) falls: f64,
    /// How far from an exponential, rms, as a part of its height.
    off: f64,
}

impl HealthCheck<'_> {
    /// Stretches behind steps from cell to cell, in short blocks, about a zero.
    pub(super) fn behind_steps(
        &mut self,
        trace: usize,
        top: f64,
        zero: &Baseline,
    ) -> Result<Vec<Behind>> {
        let rate = self.source.rate_hz();
        let block = ((BLOCK_S * rate) as usize).max(1);
        let mean = |c: &crate::recording::Cell| self.stat(c, trace)[2];
        let rows = self.rows(trace);
        let pairs = rows.iter().flat_map(|row| row.windows(2));
        let jumps = pairs.filter(|w| (mean(&w[1]) - mean(&w[0])).abs() > STEP * top);
        let mut steps: Vec<u64> = jumps.map(|w| w[0].first).collect();
        // What a look shows is not looked at again.
        steps.dedup_by(|next, last| ((*next - *last) as f64) < 0.5 * LONG_S * rate);
        let (mut found, mut raw) = (Vec::new(), Raw::default());
        for look in self.looks(&steps, LONG_S) {
            let first = look.start;
            self.source.read(look, &mut raw)?;
            let gain = self.scales[trace].gain;
            raw[trace].iter_mut().for_each(|v| *v *= gain);
            zero.subtract(first, &mut raw[trace]);
            let blocks = raw[trace].chunks_exact(block);
            let means: Vec<f64> = blocks
                .map(|c| c.iter().sum::<f64>() / block as f64)
                .collect();
            found.extend(behind(&means, block as f64 / rate, top));
        }
        Ok(found)
    }
}

/// The stretches between steps of a row of block means.
fn behind(means: &[f64], step_s: f64, top: f64) -> Vec<Behind> {
    let rows = between_steps(means, step_s, STEP * top, LONG_S).into_iter();
    rows.filter_map(|row| of_row(row, step_s, top)).collect()
}

/// What a row of means of `step_s` each shows; `None` where it is short, or low beside the trace's top.
pub(super) fn of_row(row: &[f64], step_s: f64, top: f64) -> Option<Behind> {
    if row.len() < BLOCKS || row[0].abs() < LEAST * top {
        return None;
    }
    let row = not_over(row);
    let line = line(row, step_s)?;
    let high = row[0].abs();
    Some(Behind {
        corner_hz: line.corner_hz,
        lasts_s: row.len() as f64 * step_s,
        height: high / top,
        falls: 1.0 - row[row.len() - 1] / row[0],
        off: line.left / high,
    })
}

/// The begin of a stretch, until it has fallen to next to nothing.
fn not_over(row: &[f64]) -> &[f64] {
    let over = row.iter().position(|y| y.abs() < OVER * row[0].abs());
    &row[..over.unwrap_or(row.len()).max(BLOCKS)]
}

/// The decay that stretches agree on; `None` where they do not, and where the trace stands still between steps.
pub(super) fn decay(found: &[Behind]) -> Option<Droop> {
    let falls = |b: &&Behind| {
        b.falls >= FALLS && b.off <= NEAR && (CORNERS_HZ.0..CORNERS_HZ.1).contains(&b.corner_hz)
    };
    let decays: Vec<f64> = found.iter().filter(falls).map(|b| b.corner_hz).collect();
    let corner_hz = order::median_in_place(&mut decays.clone())?;
    let mut offs: Vec<f64> = decays.iter().map(|c| (c / corner_hz - 1.0).abs()).collect();
    let agree = offs.iter().filter(|off| **off < AGREE).count();
    let stands = found.iter().filter(|b| {
        let would = 1.0 - (-std::f64::consts::TAU * corner_hz * b.lasts_s).exp();
        let shows = would >= FALLS || b.height * would >= SHOWS;
        b.height >= HIGH && shows && b.falls.abs() < STANDS * would
    });
    let still = stands.count() as f64;
    let error = 1.4826 * order::median_in_place(&mut offs)? / (decays.len() as f64).sqrt();
    let told = agree >= DECAYS
        && agree as f64 >= MOST * decays.len() as f64
        && still <= STANDING * agree as f64;
    told.then_some(Droop { corner_hz, error })
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEP_S: f64 = 2e-3;

    /// Sixty blocks of a trace given by the seconds, behind its step at 10 ms, of a top of 100.
    fn seen(wave: impl Fn(f64) -> f64) -> Vec<Behind> {
        let fine = (0..60).map(|k| {
            // The mean over the block, of eight places.
            let at = |n: i32| wave((f64::from(k) + (f64::from(n) + 0.5) / 8.0) * STEP_S - 0.01);
            (0..8).map(at).sum::<f64>() / 8.0
        });
        behind(&fine.collect::<Vec<f64>>(), STEP_S, 100.0)
    }

    fn high_passed(level: f64, hz: f64) -> Vec<Behind> {
        seen(move |t| match t {
            ..0.0 => 0.0,
            t => level * (-std::f64::consts::TAU * hz * t).exp(),
        })
    }

    /// Step response of a first-order high-pass in closed form, of an open circuit and of what an alternating arc leaves behind it.
    #[test]
    fn two_clean_decays_with_one_corner_tell_it() {
        for hz in [2.0, 6.0, 17.0] {
            let found = [high_passed(80.0, hz), high_passed(-9.0, hz)].concat();
            let droop = decay(&found).unwrap();
            assert!((droop.corner_hz / hz - 1.0).abs() < 0.01, "{droop:?}");
        }
        let two = [high_passed(80.0, 5.0), high_passed(80.0, 9.0)].concat();
        assert_eq!(decay(&two), None, "two corners");
        assert_eq!(decay(&high_passed(80.0, 5.0)), None, "seen once");
    }

    /// An open circuit that stands, the arc behind it, a down-slope to nothing: straight lines are no decays, and beside what stands
    /// still two decays are something else's, such as a current that follows a pedal.
    #[test]
    fn a_trace_that_stands_between_its_steps_is_not_blocked() {
        let stands = seen(|t| if t < 0.0 { 0.0 } else { 80.0 });
        assert_eq!(decay(&stands.repeat(3)), None);
        let slope = seen(|t| (60.0 - 600.0 * t.max(0.0)).max(0.0));
        assert_eq!(decay(&slope.repeat(3)), None);
        let decays = high_passed(80.0, 4.0).repeat(2);
        assert!(decay(&decays).is_some());
        assert_eq!(decay(&[decays, stands].concat()), None);
    }

    /// Strikes at the foot of an up-slope: an arc of a few amps falls as its current rises, and the open circuit before it, of 40 ms,
    /// stands.
    #[test]
    fn an_arc_that_falls_behind_a_short_open_circuit_that_stands_is_not_blocked() {
        let strike = seen(|t| match t {
            ..0.0 => 0.0,
            0.0..0.04 => 100.0,
            t => 17.0 * (-2.0 * (t - 0.04)).exp(),
        });
        let falls = high_passed(17.0, 0.32);
        assert!(decay(&falls.repeat(2)).is_some());
        assert_eq!(decay(&[falls.repeat(2), strike.repeat(2)].concat()), None);
    }
}
