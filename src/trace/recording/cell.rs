//! The parts of a recording: segments without a gap, cells that sum up frames, blocks of calibrated samples.

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

/// Minimum, maximum and mean of current and voltage over a stretch of frames; never across a gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Number of its first frame.
    pub first: u64,
    /// How many frames.
    pub frames: u32,
    /// Minimum, maximum, mean of the calibrated current, A; no sample lies outside.
    pub amps: [f32; 3],
    /// The same of the voltage, V; zeros without a voltage trace.
    pub volts: [f32; 3],
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

/// Time of a frame, s from the first sample of these segments.
pub(super) fn time_s(segments: &[Segment], rate_hz: f64, frame: u64) -> f64 {
    let at = segments.partition_point(|s| s.first <= frame);
    match at.checked_sub(1).map(|k| segments[k]) {
        Some(s) => s.from_s + (frame - s.first) as f64 / rate_hz,
        None => frame as f64 / rate_hz,
    }
}
