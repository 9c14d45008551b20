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
    name: String,
    rate_hz: f64,
    block: Block,
    segments: Vec<Segment>,
    survey: Survey,
}

impl Recording {
    /// x
    pub fn open(path: &Path, logger: &Logger) -> Result<Recording> {
        let _ = (path, logger);
        unreachable!()
    }

    /// A recording of plain vectors, already in A and V; `volts` may be empty.
    pub fn from_samples(name: &str, rate_hz: f64, amps: Vec<f64>, volts: Vec<f64>) -> Recording {
        const CELL: usize = 1024;
        let stat = |x: &[f64]| {
            let (l, h, s) = x.iter().fold((f64::MAX, f64::MIN, 0.0), |(l, h, s), v| {
                (l.min(*v), h.max(*v), s + v)
            });
            [l as f32, h as f32, (s / x.len() as f64) as f32]
        };
        let cells = (0..amps.len())
            .step_by(CELL)
            .map(|k| {
                let end = (k + CELL).min(amps.len());
                Cell {
                    first: k as u64,
                    frames: (end - k) as u32,
                    amps: stat(&amps[k..end]),
                    volts: if volts.is_empty() {
                        [0.0; 3]
                    } else {
                        stat(&volts[k..end])
                    },
                }
            })
            .collect();
        Recording {
            name: name.to_owned(),
            rate_hz,
            segments: vec![Segment {
                first: 0,
                frames: amps.len() as u64,
                from_s: 0.0,
            }],
            survey: Survey {
                cells,
                noise_a: None,
                noise_v: None,
                findings: vec![],
            },
            block: Block {
                amps,
                volts,
                trigger: vec![],
            },
        }
    }
    /// x
    pub fn name(&self) -> &str {
        &self.name
    }
    /// x
    pub fn rate_hz(&self) -> f64 {
        self.rate_hz
    }
    /// x
    pub fn segments(&self) -> &[Segment] {
        &self.segments
    }
    /// x
    pub fn has_volts(&self) -> bool {
        !self.block.volts.is_empty()
    }
    /// x
    pub fn survey(&self) -> &Survey {
        &self.survey
    }
    /// x
    pub fn read(&mut self, range: Range<u64>, block: &mut Block) -> Result<()> {
        let r = range.start as usize..range.end as usize;
        block.amps = self.block.amps[r.clone()].to_vec();
        block.volts = if self.has_volts() {
            self.block.volts[r].to_vec()
        } else {
            vec![]
        };
        Ok(())
    }
    /// x
    pub fn electrode_negative_sign(&self) -> f64 {
        1.0
    }
    /// x
    pub fn u_amps(&self, _level: f64) -> f64 {
        0.0
    }
    /// x
    pub fn u_volts(&self, _level: f64) -> f64 {
        0.0
    }
}
