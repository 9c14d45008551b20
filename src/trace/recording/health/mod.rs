//! Is the recording fit to measure? What speaks against it, as findings with numbers.

mod ahead;
mod arc;
mod clipping;
mod coupling;
mod decay;
mod droop;
mod idle;
mod lead;
mod mean;
mod sag;

use std::ops::Range;

use crate::error::Result;
use crate::recording::baseline::Baseline;
use crate::recording::finding::Finding;
use crate::recording::scale::Scale;
use crate::recording::seen::Seen;
use crate::recording::source::{CURRENT, Raw, Source, VOLTAGE};
use crate::recording::{Cell, Segment};

/// Cells read again for a look at the samples.
const LOOKED_AT: usize = 12;
/// Dropouts of 0.5 ms need two samples in them.
const SLOW_HZ: f64 = 4_000.0;

/// What there is to look at.
pub(crate) struct HealthCheck<'a> {
    pub source: &'a mut dyn Source,
    pub scales: &'a [Scale; 2],
    pub zeros: &'a [Baseline; 2],
    pub cells: &'a [Cell],
    /// Indices of cells without current.
    pub idle: &'a [usize],
    pub mains_hz: Option<f64>,
    pub electrode_negative_sign: f64,
    /// Current while arcs burn, A, where it is known.
    pub run_a: Option<f64>,
    /// The low end was restored.
    pub restored: bool,
    /// The unit of both traces where they have no scale yet.
    pub unscaled: Option<&'static str>,
    /// Where the traces were found to be cut off, A and V.
    pub cut_off: [Option<f64>; 2],
}

/// Names of the traces in findings.
const NAMES: [(&str, &str); 2] = [("current", "A"), ("voltage", "V")];

impl HealthCheck<'_> {
    /// Everything that was seen.
    ///
    /// # Errors
    /// What reading gives.
    pub fn findings(&mut self) -> Result<Vec<Finding>> {
        let mut found = Vec::new();
        found.extend(self.short());
        for trace in [CURRENT, VOLTAGE] {
            if self.source.has(trace) {
                found.extend(self.dead(trace));
                found.extend(self.clipped(trace)?);
                found.extend(self.hum(trace)?);
            }
        }
        found.extend(self.slow());
        found.extend(self.drift());
        if !self.restored {
            found.extend(self.coupled()?);
        }
        if self.source.has(VOLTAGE) && self.unscaled.is_none() {
            found.extend(self.no_load());
            found.extend(self.arc()?);
            found.extend(self.swapped()?);
        }
        Ok(found)
    }

    /// Name and unit of a trace.
    fn named(&self, trace: usize) -> (&'static str, &'static str) {
        let (name, unit) = NAMES[trace];
        (name, self.unscaled.unwrap_or(unit))
    }

    fn stat(&self, cell: &Cell, trace: usize) -> [f64; 3] {
        (if trace == CURRENT {
            cell.amps
        } else {
            cell.volts
        })
        .map(f64::from)
    }

    fn extremes(&self, trace: usize) -> (f64, f64) {
        self.cells
            .iter()
            .map(|c| self.stat(c, trace))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
                (low.min(s[0]), high.max(s[1]))
            })
    }

    fn read(&mut self, cell: &Cell, raw: &mut Raw) -> Result<()> {
        self.source
            .read(cell.first..cell.first + u64::from(cell.frames), raw)
    }

    /// Calibrated samples of a cell.
    fn samples(&mut self, cell: &Cell, raw: &mut Raw) -> Result<()> {
        self.read(cell, raw)?;
        for trace in [CURRENT, VOLTAGE] {
            let gain = self.scales[trace].gain;
            raw[trace].iter_mut().for_each(|v| *v *= gain);
            self.zeros[trace].subtract(cell.first, &mut raw[trace]);
        }
        Ok(())
    }

    /// Nothing can be said of one sample, or of none.
    fn short(&self) -> Option<Finding> {
        let frames: u64 = self.source.segments().iter().map(|s| s.frames).sum();
        let count = frames as usize;
        (frames < 2).then(|| Finding::new(Seen::Samples { count }))
    }

    fn dead(&self, trace: usize) -> Option<Finding> {
        let (low, high) = self.extremes(trace);
        let (name, unit) = self.named(trace);
        let still = high - low
            <= 2.5
                * self.scales[trace]
                    .step
                    .max(1e-9 * high.abs().max(low.abs()));
        let seen = || Seen::Dead {
            trace: name.to_owned(),
            unit: unit.to_owned(),
            level: low,
        };
        (still && self.cells.len() > 1).then(|| Finding::new(seen()))
    }

    fn slow(&self) -> Option<Finding> {
        let rate_hz = self.source.rate_hz();
        let needed_hz = SLOW_HZ;
        (rate_hz < SLOW_HZ).then(|| Finding::new(Seen::SlowRate { rate_hz, needed_hz }))
    }

    /// The frames from some of these first ones on, evenly taken, for this long or to the end of their segment.
    fn looks(&self, firsts: &[u64], lasts_s: f64) -> Vec<Range<u64>> {
        let every = firsts.len().div_ceil(LOOKED_AT).max(1);
        let frames = (lasts_s * self.source.rate_hz()) as u64;
        let segments = self.source.segments();
        let look = |&first: &u64| {
            let holds = |s: &&Segment| s.first <= first && first < s.first + s.frames;
            let segment = segments.iter().find(holds)?;
            Some(first..(first + frames).min(segment.first + segment.frames))
        };
        firsts.iter().step_by(every).filter_map(look).collect()
    }
}

#[cfg(test)]
mod tests;
