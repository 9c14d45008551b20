//! The low end that an AC-coupled logger blocks, put back: the exact inverse of a first-order high-pass section.
//!
//! The section is y[n] = a·y[n−1] + x[n] − x[n−1] with a = exp(−2π·corner/rate), whose step response is that of the
//! analogue one at every sample. Its inverse is x[n] = x[n−1] + y[n] − a·y[n−1]. The logger's own zero would come out
//! as a ramp, so the level that the trace is blocked about is taken away first: the one with which the trace restored is 0
//! at all its rests.

use std::ops::Range;

use crate::error::Result;
use crate::recording::Segment;
use crate::recording::source::{CURRENT, Raw, RawCell, Source, Stat, VOLTAGE};
use crate::stats::order;

/// One cell in this many at least is at rest.
const RESTS: usize = 12;
/// The level is the median of what this many cells at rest tell.
const LAST: usize = 8;

/// Current and voltage before a frame: (x, y).
type State = [(f64, f64); 2];

/// A source whose current and voltage are restored.
pub(crate) struct Restored {
    inner: Box<dyn Source>,
    keep: f64,
    zeros: [f64; 2],
    cells: Vec<RawCell>,
    states: Vec<State>,
}

impl Restored {
    /// Reads everything twice: once for the zeros, once to carry the state from cell to cell.
    ///
    /// # Errors
    /// What reading gives.
    pub fn new(mut inner: Box<dyn Source>, corner_hz: f64) -> Result<Restored> {
        let cells = inner.survey()?;
        let keep = (-2.0 * std::f64::consts::PI * corner_hz / inner.rate_hz()).exp();
        let begins: Vec<u64> = inner.segments().iter().map(|s| s.first).collect();
        let zeros = [CURRENT, VOLTAGE].map(|trace| blocked_zero(&cells, &begins, trace, keep));
        let mut restored = Restored {
            inner,
            keep,
            zeros,
            cells: Vec::new(),
            states: Vec::new(),
        };
        let (mut raw, mut state) = (Raw::default(), State::default());
        for mut cell in cells {
            if begins.binary_search(&cell.first).is_ok() {
                state = State::default();
            }
            restored.states.push(state);
            restored
                .inner
                .read(cell.first..cell.first + u64::from(cell.frames), &mut raw)?;
            restored.restore(&mut raw, &mut state);
            for (stat, values) in cell.stats.iter_mut().zip(&raw) {
                *stat = if values.is_empty() {
                    Stat::default()
                } else {
                    Stat::of(values)
                };
            }
            restored.cells.push(cell);
        }
        Ok(restored)
    }

    fn restore(&self, raw: &mut Raw, state: &mut State) {
        for ((values, (x, y)), zero) in raw.iter_mut().zip(state).zip(self.zeros) {
            for value in values {
                let next = *value - zero;
                *x += next - self.keep * *y;
                *y = next;
                *value = *x;
            }
        }
    }
}

/// The level that a trace is blocked about. Every cell tells the one with which the restored trace would be 0 there: at rest they
/// agree, in an arc they are off by its current over the time since the beginning. So a recording may stop while an arc burns.
fn blocked_zero(cells: &[RawCell], begins: &[u64], trace: usize, keep: f64) -> f64 {
    let told = told_zeros(cells, begins, trace, 1.0 - keep);
    // The first fifth tells little: noise weighs much there.
    let longest = told.iter().map(|t| t.0).fold(0.0, f64::max);
    let late = told.iter().filter(|t| t.0 >= 0.2 * longest);
    let late: Vec<f64> = late.map(|t| t.1).collect();
    let mut sorted = late.clone();
    sorted.sort_by(f64::total_cmp);
    let count = late.len().div_ceil(RESTS).max(1);
    let closest = sorted.windows(count).min_by(|a, b| {
        let spread = |w: &[f64]| w[count - 1] - w[0];
        spread(a).total_cmp(&spread(b))
    });
    let Some((low, high)) = closest.map(|w| (w[0], w[count - 1])) else {
        return 0.0;
    };
    // The last of them are surest.
    let spread = high - low;
    let rests = |z: &&f64| (low - spread..=high + spread).contains(*z);
    let mut last: Vec<f64> = late
        .iter()
        .rev()
        .filter(rests)
        .take(LAST)
        .copied()
        .collect();
    order::median_in_place(&mut last).unwrap_or(0.0)
}

/// Frames since the beginning, and the zero with which the restored trace would be 0 there, of each cell. From rest the trace restored is
/// y + (1 − a)·Σy, and a zero z takes z·(1 + (1 − a)·n) from that.
fn told_zeros(cells: &[RawCell], begins: &[u64], trace: usize, part: f64) -> Vec<(f64, f64)> {
    let (mut sum, mut count) = (0.0, 0.0);
    let told = |cell: &RawCell| {
        if begins.binary_search(&cell.first).is_ok() {
            (sum, count) = (0.0, 0.0);
        }
        let (mean, frames) = (cell.stats[trace].mean, f64::from(cell.frames));
        let half = 0.5 * frames;
        let zero = (mean + part * (sum + half * mean)) / (1.0 + part * (count + half));
        (sum, count) = (sum + frames * mean, count + frames);
        (count, zero)
    };
    cells.iter().map(told).collect()
}

impl Source for Restored {
    fn rate_hz(&self) -> f64 {
        self.inner.rate_hz()
    }

    fn segments(&self) -> &[Segment] {
        self.inner.segments()
    }

    fn has(&self, trace: usize) -> bool {
        self.inner.has(trace)
    }

    fn read(&mut self, range: Range<u64>, raw: &mut Raw) -> Result<()> {
        if range.is_empty() {
            return self.inner.read(range, raw);
        }
        let k = self.cells.partition_point(|c| c.first <= range.start) - 1;
        let before = (range.start - self.cells[k].first) as usize;
        self.inner.read(self.cells[k].first..range.end, raw)?;
        let mut state = self.states[k];
        self.restore(raw, &mut state);
        raw.iter_mut()
            .for_each(|values| _ = values.drain(..before.min(values.len())));
        Ok(())
    }

    fn survey(&mut self) -> Result<Vec<RawCell>> {
        Ok(self.cells.clone())
    }
}
