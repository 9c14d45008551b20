//! The low end that an AC-coupled logger blocks, put back: the exact inverse of a first-order high-pass section.
//!
//! The section is y[n] = a·y[n−1] + x[n] − x[n−1] with a = exp(−2π·corner/rate), whose step response is that of the
//! analogue one at every sample. Its inverse is x[n] = x[n−1] + y[n] − a·y[n−1]. The logger's own zero would come out
//! as a ramp, so the level that the trace is blocked about is taken away first: over what begins and ends at rest it is the mean
//! of y; a recording that stops while an arc burns shows it from rest to rest.

use std::ops::Range;

use crate::error::Result;
use crate::recording::Segment;
use crate::recording::source::{CURRENT, Raw, RawCell, Source, Stat, VOLTAGE};

/// One cell in so many at least is at rest.
const RESTS: usize = 6;

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
        let zeros = [CURRENT, VOLTAGE].map(|trace| blocked_zero(&cells, trace));
        let mut restored = Restored {
            inner,
            keep,
            zeros,
            cells: Vec::new(),
            states: Vec::new(),
        };
        let begins: Vec<u64> = restored.inner.segments().iter().map(|s| s.first).collect();
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

/// The level that a trace is blocked about. Its integral about that level is 0 at rest, and elsewhere what the arcs before it have
/// left: the mean up to a place at rest is that level, up to most others it is not.
fn blocked_zero(cells: &[RawCell], trace: usize) -> f64 {
    let (mut sum, mut frames) = (0.0, 0.0);
    let mut means: Vec<f64> = cells
        .iter()
        .map(|c| {
            sum += c.stats[trace].mean * f64::from(c.frames);
            frames += f64::from(c.frames);
            sum / frames
        })
        .collect();
    let Some(&whole) = means.last() else {
        return 0.0;
    };
    // The first fifth tells little: what one arc leaves weighs much there.
    let mut late = means.split_off(means.len() / 5);
    late.sort_by(f64::total_cmp);
    let count = late.len().div_ceil(RESTS);
    let closest = late.windows(count).min_by(|a, b| {
        let spread = |w: &[f64]| w[count - 1] - w[0];
        spread(a).total_cmp(&spread(b))
    });
    let rest = closest.map_or(whole, |w| w[count / 2]);
    let spread = closest.map_or(0.0, |w| w[count - 1] - w[0]);
    // The mean of all is surest, where the recording ends at rest.
    if (whole - rest).abs() <= 5.0 * spread {
        whole
    } else {
        rest
    }
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
