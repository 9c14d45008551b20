//! The samples of one start, in memory, addressed by frames.

use crate::error::Result;
use crate::recording::{Block, Recording, Segment};
use crate::start::find::tracker::Span;

/// Calibrated samples of a stretch.
#[derive(Debug, Clone)]
pub(crate) struct Trace {
    pub rate_hz: f64,
    /// Frame of the first sample.
    pub first: u64,
    pub amps: Vec<f64>,
    /// Empty without a voltage trace.
    pub volts: Vec<f64>,
}

impl Trace {
    /// Reads the frames of a span and `margin` frames about it, as far as the segment goes.
    pub fn read(
        recording: &Recording,
        segment: &Segment,
        span: Span,
        margin: f64,
    ) -> Result<Trace> {
        let end = segment.first + segment.frames;
        let first = ((span.on - margin).max(segment.first as f64)) as u64;
        let last = ((span.off + margin).ceil() as u64).clamp(first, end);
        let mut block = Block::default();
        recording.read(first..last, &mut block)?;
        Ok(Trace {
            rate_hz: recording.rate_hz(),
            first,
            amps: block.amps,
            volts: block.volts,
        })
    }

    /// Index range of the samples inside a span.
    pub fn range(&self, span: Span) -> std::ops::Range<usize> {
        let index = |frame: f64| {
            ((frame - self.first as f64).ceil().max(0.0) as usize).min(self.amps.len())
        };
        index(span.on)..index(span.off).max(index(span.on))
    }

    /// Frame of an index that need not be whole.
    pub fn frame(&self, index: f64) -> f64 {
        self.first as f64 + index
    }

    pub fn amps_in(&self, span: Span) -> &[f64] {
        &self.amps[self.range(span)]
    }

    /// Mean magnitude of the current in each whole block of a span.
    pub fn mean_amps(&self, span: Span, block: usize) -> Vec<f64> {
        let blocks = self.amps_in(span).chunks_exact(block);
        let mean = |block: &[f64]| block.iter().map(|i| i.abs()).sum::<f64>() / block.len() as f64;
        blocks.map(mean).collect()
    }

    pub fn volts_in(&self, span: Span) -> &[f64] {
        if self.volts.is_empty() {
            &[]
        } else {
            &self.volts[self.range(span)]
        }
    }
}
