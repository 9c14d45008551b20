//! A file becomes calibrated blocks of amps and volts.

mod logger;

pub use logger::Logger;

use std::ops::Range;
use std::path::Path;

use crate::error::Result;
use crate::flag::Finding;

/// A contiguous part of a recording: no sample is missing inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    /// Number of its first frame.
    pub first: u64,
    /// How many frames.
    pub frames: u64,
    /// Time of its first frame, s from the recording's first sample.
    pub from_s: f64,
}

/// Minimum, maximum and mean of current and voltage over a few thousand frames; never across a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Number of its first frame.
    pub first: u64,
    /// How many frames.
    pub frames: u32,
    /// Minimum, maximum, mean of the calibrated current, A.
    pub amps: [f32; 3],
    /// The same of the voltage, V; zeros without a voltage trace.
    pub volts: [f32; 3],
}

/// What one pass over every sample tells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Survey {
    /// The whole recording in cells, in order.
    pub cells: Vec<Cell>,
    /// Idle noise of the current, A rms (1.4826 × median absolute deviation); `None` without idle stretches.
    pub noise_a: Option<f64>,
    /// Idle noise of the voltage, V rms.
    pub noise_v: Option<f64>,
    /// Health of the recording, each with what was seen.
    pub findings: Vec<Finding>,
}

/// Calibrated samples of a stretch of one segment.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Block {
    /// Current, A, electrode negative positive or negative as the job file says; offset taken away.
    pub amps: Vec<f64>,
    /// Voltage, V; empty without a voltage trace.
    pub volts: Vec<f64>,
    /// Trigger on; empty without a trigger channel.
    pub trigger: Vec<bool>,
}

/// An open recording: calibrated, surveyed, at one even rate.
pub struct Recording {
    _private: (),
}

impl Recording {
    /// Opens a WAV or CSV file, detected by content, reads its header, and surveys it in one pass.
    ///
    /// # Errors
    /// Where, what was found, what was expected, the way out.
    pub fn open(path: &Path, logger: &Logger) -> Result<Recording> {
        let _ = (path, logger);
        unreachable!()
    }

    /// A recording of plain vectors, already in A and V; `volts` and `trigger` may be empty.
    pub fn from_samples(name: &str, rate_hz: f64, amps: Vec<f64>, volts: Vec<f64>) -> Recording {
        let _ = (name, rate_hz, amps, volts);
        unreachable!()
    }

    /// The name it is listed under.
    pub fn name(&self) -> &str {
        unreachable!()
    }

    /// Frames a second.
    pub fn rate_hz(&self) -> f64 {
        unreachable!()
    }

    /// Frames in all.
    pub fn frames(&self) -> u64 {
        unreachable!()
    }

    /// The contiguous parts, in order.
    pub fn segments(&self) -> &[Segment] {
        unreachable!()
    }

    /// Time of a frame, s from the recording's first sample.
    pub fn time_s(&self, frame: u64) -> f64 {
        let _ = frame;
        unreachable!()
    }

    /// Whether there is a voltage trace.
    pub fn has_volts(&self) -> bool {
        unreachable!()
    }

    /// What the one pass over it told.
    pub fn survey(&self) -> &Survey {
        unreachable!()
    }

    /// Reads a stretch inside one segment, replacing what `block` held.
    ///
    /// Cheapest in rising order; going back is allowed.
    ///
    /// # Errors
    /// What reading the file gives.
    pub fn read(&mut self, range: Range<u64>, block: &mut Block) -> Result<()> {
        let _ = (range, block);
        unreachable!()
    }

    /// +1 where the current trace is positive while the electrode is negative, −1 else.
    pub fn electrode_negative_sign(&self) -> f64 {
        unreachable!()
    }

    /// Standard uncertainty of a current level from the calibration alone (shunt, gain, logger), A.
    pub fn u_amps(&self, level: f64) -> f64 {
        let _ = level;
        unreachable!()
    }

    /// Standard uncertainty of a voltage level from the calibration alone, V.
    pub fn u_volts(&self, level: f64) -> f64 {
        let _ = level;
        unreachable!()
    }
}
