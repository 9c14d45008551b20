//! Whether a trace is cut off: at full scale, or below it where an amplifier gives out.

use crate::error::Result;
use crate::recording::cell::{Cell, time_s};
use crate::recording::finding::Finding;
use crate::recording::health::{HealthCheck, LOOKED_AT};
use crate::recording::seen::{CutOff, Seen};
use crate::recording::source::{CURRENT, Raw};

/// A trace that rests this many samples at its very end is cut off there: at full scale …
const CLIPPED_RUN: usize = 3;
/// … and below it, where an amplifier may give out.
const SOFT_RUN: usize = 8;

/// Places that are cut off and lie closer than this are reported as one, s.
const APART_S: f64 = 0.05;

impl HealthCheck<'_> {
    /// Samples in a row at the very end of what the trace reaches, above or below.
    pub(super) fn clipped(&mut self, trace: usize) -> Result<Option<Finding>> {
        let (low, high) = self.extremes(trace);
        for end in [high, low] {
            let found = self.clipped_at(trace, end)?;
            if found.is_some() {
                self.cut_off[trace] = Some(end);
                return Ok(found);
            }
        }
        Ok(None)
    }

    fn clipped_at(&mut self, trace: usize, end: f64) -> Result<Option<Finding>> {
        let (low, high) = self.extremes(trace);
        let middle = 0.5 * (low + high);
        let above = end > middle;
        let places: Vec<Cell> = self.reaching(trace, end).take(LOOKED_AT).copied().collect();
        let full = self.is_full_scale(trace, end, places.first().map_or(0, |c| c.first));
        let (mut longest, mut raw) = (0, Raw::default());
        for cell in &places {
            self.read(cell, &mut raw)?;
            let upright = above != (self.scales[trace].gain < 0.0);
            longest = longest.max(flat_end(&raw[trace], upright, full));
        }
        let far = (end - middle).abs() > 0.25 * (high - low) && end.abs() > 5.0;
        // No-load voltage has a flat top of its own, and a trace without noise has one everywhere.
        let soft = trace == CURRENT && !self.rests_flat(trace, end);
        let enough = if full { CLIPPED_RUN } else { SOFT_RUN };
        let (name, unit) = self.named(trace);
        let seen = || CutOff {
            trace: name.to_owned(),
            unit: unit.to_owned(),
            level: end,
            full_scale: full,
            longest_ms: 1e3 * longest as f64 / self.source.rate_hz(),
        };
        let clipped = far && longest >= enough && (full || soft);
        Ok(clipped.then(|| Finding::within(Seen::CutOff(seen()), self.spans_reaching(trace, end))))
    }

    /// The cells that reach an end of the trace.
    fn reaching(&self, trace: usize, end: f64) -> impl Iterator<Item = &Cell> {
        let (low, high) = self.extremes(trace);
        self.cells.iter().filter(move |cell| {
            let [lowest, highest, _] = self.stat(cell, trace);
            (lowest - end).abs().min((highest - end).abs()) <= 1e-5 * (high - low)
        })
    }

    /// Where the trace reaches an end, s: neighbouring cells in one.
    fn spans_reaching(&self, trace: usize, end: f64) -> Vec<(f64, f64)> {
        let mut spans: Vec<(f64, f64)> = Vec::new();
        let rate = self.source.rate_hz();
        for cell in self.reaching(trace, end) {
            let on = time_s(self.source.segments(), rate, cell.first);
            let off = on + f64::from(cell.frames) / rate;
            match spans.last_mut() {
                Some(last) if on - last.1 < APART_S => last.1 = off,
                _ => spans.push((on, off)),
            }
        }
        spans
    }

    /// Whether a value is as far as the logger goes; its zero was taken away, and full scale counts before.
    fn is_full_scale(&self, trace: usize, end: f64, frame: u64) -> bool {
        let (scale, raw) = (&self.scales[trace], end + self.zeros[trace].at(frame));
        scale
            .full_scale
            .is_some_and(|full| raw.abs() >= 0.9999 * full - scale.step)
    }

    /// Whether a cell away from an end of the trace has no noise at all.
    fn rests_flat(&self, trace: usize, end: f64) -> bool {
        let (low, high) = self.extremes(trace);
        let away = 0.1 * (high - low);
        let flat = |c: &Cell| {
            let [low, high, mean] = self.stat(c, trace);
            // Cells are rounded outward to single precision.
            let rounding = 1e-9 + 4.0 * f64::from(f32::EPSILON) * low.abs().max(high.abs());
            c.frames as usize > SOFT_RUN && high - low <= rounding && (mean - end).abs() > away
        };
        self.cells.iter().any(flat)
    }
}

/// Longest run of samples at the upper or lower end of the values, unless they rest like that anywhere (`full` excepted).
fn flat_end(values: &[f64], upper: bool, full: bool) -> usize {
    let end = match upper {
        true => values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        false => values.iter().copied().fold(f64::INFINITY, f64::min),
    };
    let runs = values.chunk_by(|a, b| a == b);
    let (mut longest, mut elsewhere) = (0, 0);
    for run in runs {
        let kind = if run[0] == end {
            &mut longest
        } else {
            &mut elsewhere
        };
        *kind = run.len().max(*kind);
    }
    // A noiseless trace rests everywhere, and so does one that stands at its end throughout.
    let varies = longest < values.len() && elsewhere * 3 < longest;
    if full || varies { longest } else { 0 }
}
