//! The common interface of all file types: frames of raw values in contiguous segments at one even rate.

use std::ops::{Range, RangeInclusive};

use crate::error::Result;
use crate::recording::Segment;

/// Index of the current trace, wherever traces stand side by side.
pub(crate) const CURRENT: usize = 0;
/// Index of the voltage trace.
pub(crate) const VOLTAGE: usize = 1;
/// Index of the trigger trace.
pub(crate) const TRIGGER: usize = 2;
/// Plausible sample rates, Hz: from one row in some minutes to the fastest oscilloscopes.
const RATES_HZ: RangeInclusive<f64> = 1e-3..=1e9;

/// Describes what is wrong with an implausible rate.
pub(crate) fn rate_fault(rate_hz: f64) -> Option<String> {
    let (least, most) = (RATES_HZ.start(), RATES_HZ.end());
    (!RATES_HZ.contains(&rate_hz)).then(|| {
        format!(
            "{rate_hz:e} samples a second is not the rate of a logger; expected {least:e} to {most:e}"
        )
    })
}

/// Maximum number of traces.
pub(crate) const TRACES: usize = 3;

/// Raw values, one vector per trace; a missing trace stays empty.
pub(crate) type Raw = [Vec<f64>; TRACES];

/// Frames of raw values that can be read repeatedly.
pub(crate) trait Source: Send {
    /// Frames per second.
    fn rate_hz(&self) -> f64;

    /// Contiguous segments in order; frame numbers continue across gaps.
    fn segments(&self) -> &[Segment];

    /// Whether the trace exists.
    fn has(&self, trace: usize) -> bool;

    /// Reads a range within one segment and replaces the contents of `raw`.
    fn read(&mut self, range: Range<u64>, raw: &mut Raw) -> Result<()>;

    /// Returns minimum, maximum and mean of all samples, cell by cell; no cell spans a gap.
    fn survey(&mut self) -> Result<Vec<RawCell>> {
        let plan = ReadPlan::of(self.segments(), self.rate_hz());
        survey_by_reading(self, &plan)
    }
}

/// Minimum, maximum and mean of a cell's values.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Stat {
    pub min: f64,
    pub max: f64,
    pub mean: f64,
}

impl Stat {
    /// Statistics of at least one value.
    pub fn of(values: &[f64]) -> Stat {
        let mut min = f64::INFINITY;
        let mut max = f64::NEG_INFINITY;
        let mut sum = 0.0;
        for &x in values {
            min = min.min(x);
            max = max.max(x);
            sum += x;
        }
        Stat {
            min,
            max,
            mean: sum / values.len() as f64,
        }
    }

    /// Largest minus smallest value.
    pub fn spread(&self) -> f64 {
        self.max - self.min
    }

    /// Statistics after multiplication by `gain`.
    pub fn scaled(&self, gain: f64) -> Stat {
        let (a, b) = (self.min * gain, self.max * gain);
        Stat {
            min: a.min(b),
            max: a.max(b),
            mean: self.mean * gain,
        }
    }
}

/// Statistics of one cell of raw values.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RawCell {
    pub first: u64,
    pub frames: u32,
    /// Current and voltage.
    pub stats: [Stat; 2],
}

/// Division of a recording into cells of equal length, none of which spans a gap.
pub(crate) struct ReadPlan {
    segments: Vec<Segment>,
    cell: u64,
}

/// Maximum length of a cell, s, unless [`CELLS`] forces longer ones.
const CELL_S: f64 = 0.02;
/// Minimum length of a cell, frames.
const CELL_FRAMES: u64 = 64;
/// Approximate maximum number of cells.
const CELLS: u64 = 1 << 16;

/// Frames of a cell of a recording that is not too long for such.
pub(crate) fn short_cell(rate_hz: f64) -> u64 {
    let mut cell = CELL_FRAMES;
    while (2 * cell) as f64 <= CELL_S * rate_hz {
        cell *= 2;
    }
    cell
}

impl ReadPlan {
    /// Plans the cells of a recording of known length.
    pub fn of(segments: &[Segment], rate_hz: f64) -> ReadPlan {
        let frames: u64 = segments.iter().map(|s| s.frames).sum();
        let mut cell = short_cell(rate_hz);
        while frames / cell > CELLS {
            cell *= 2;
        }
        ReadPlan {
            segments: segments.to_vec(),
            cell,
        }
    }

    /// Frames in a full cell.
    pub fn cell(&self) -> u64 {
        self.cell
    }

    /// Frame ranges of the cells, in order.
    pub fn cells(&self) -> impl Iterator<Item = Range<u64>> {
        self.segments.iter().flat_map(move |s| {
            let end = s.first + s.frames;
            (s.first..end)
                .step_by(self.cell as usize)
                .map(move |at| at..end.min(at + self.cell))
        })
    }
}

/// Surveys a source that has no faster way.
pub(crate) fn survey_by_reading(
    source: &mut (impl Source + ?Sized),
    plan: &ReadPlan,
) -> Result<Vec<RawCell>> {
    survey_ranges(source, plan.cells())
}

/// The cells of some ranges of frames.
pub(crate) fn survey_ranges(
    source: &mut (impl Source + ?Sized),
    ranges: impl Iterator<Item = Range<u64>>,
) -> Result<Vec<RawCell>> {
    let mut raw = Raw::default();
    let mut cells = Vec::new();
    for range in ranges {
        let (first, frames) = (range.start, (range.end - range.start) as u32);
        source.read(range, &mut raw)?;
        let stat = |trace: usize| {
            if raw[trace].is_empty() {
                Stat::default()
            } else {
                Stat::of(&raw[trace])
            }
        };
        cells.push(RawCell {
            first,
            frames,
            stats: [stat(CURRENT), stat(VOLTAGE)],
        });
    }
    Ok(cells)
}

/// A recording held in memory.
pub(crate) struct Memory {
    rate_hz: f64,
    segments: [Segment; 1],
    raw: Raw,
}

impl Memory {
    /// A single segment; `volts` may be empty.
    pub fn new(rate_hz: f64, amps: Vec<f64>, volts: Vec<f64>) -> Memory {
        Memory::beginning(0.0, rate_hz, [amps, volts, Vec::new()])
    }

    /// A single segment that starts at a given time, s; every trace but the current may be empty.
    pub fn beginning(from_s: f64, rate_hz: f64, raw: Raw) -> Memory {
        assert!(rate_hz > 0.0 && rate_hz.is_finite(), "a rate over 0");
        let frames = raw[CURRENT].len();
        assert!(
            raw.iter().all(|r| r.is_empty() || r.len() == frames),
            "as many volts as amps"
        );
        let segments = [Segment {
            first: 0,
            frames: frames as u64,
            from_s,
        }];
        Memory {
            rate_hz,
            segments,
            raw,
        }
    }
}

impl Source for Memory {
    fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    fn segments(&self) -> &[Segment] {
        &self.segments
    }

    fn has(&self, trace: usize) -> bool {
        !self.raw[trace].is_empty()
    }

    fn read(&mut self, range: Range<u64>, raw: &mut Raw) -> Result<()> {
        for (to, from) in raw.iter_mut().zip(&self.raw) {
            to.clear();
            if !from.is_empty() {
                to.extend_from_slice(&from[range.start as usize..range.end as usize]);
            }
        }
        Ok(())
    }
}
