//! Frames of raw values in a row, the oldest of them dropped.

use crate::recording::source::{CURRENT, Raw};

/// Frames of raw values in a row, the oldest of them dropped.
#[derive(Default)]
pub(super) struct Frames {
    pub raw: Raw,
    /// Time of each, s; empty where they are even.
    pub times: Vec<f64>,
    /// How many were dropped.
    pub dropped: u64,
    /// Frames of those held before which samples are missing.
    pub breaks: Vec<usize>,
}

impl Frames {
    pub fn len(&self) -> usize {
        self.raw[CURRENT].len()
    }

    pub fn drop_first(&mut self, count: usize) {
        for column in self.raw.iter_mut().chain([&mut self.times]) {
            column.drain(..count.min(column.len()));
        }
        self.breaks.retain(|at| *at > count);
        self.breaks.iter_mut().for_each(|at| *at -= count);
        self.dropped += count as u64;
    }
}
