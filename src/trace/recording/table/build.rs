//! Builds segments and cells from the rows of a table in one pass and fixed memory.

use crate::recording::source::Stat;
use crate::recording::table::pace::{Midnight, Pace};
use crate::recording::table::rows::{RowEvent, Rows, TIME, Why};

/// Initial number of rows per cell; doubled when there are too many cells.
const CELL_ROWS: u32 = 64;
/// Maximum number of cells.
const CELLS: usize = 1 << 16;
/// Number of gaps whose place is kept.
const REMEMBERED: usize = 4;

/// Rows without a gap between them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stretch {
    /// Number of the first row.
    pub first: u64,
    pub rows: u64,
    /// Usual steps from the first row to the last, including lost rows.
    pub steps: u64,
    /// Times of the first and the last row, s from the first row of the table.
    pub from_s: f64,
    pub to_s: f64,
}

/// Some consecutive rows of one stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct RowCell {
    pub first: u64,
    pub rows: u32,
    /// Offset of its first row in the text.
    pub at: u64,
    pub from_s: f64,
    pub to_s: f64,
    /// Maximum deviation of its times from the straight line between first and last, s.
    pub off: f64,
    /// Statistics; the means are sums until [`Builder::finish`].
    pub stats: [Stat; 2],
    /// Correction added to the written time of its first row, before the zero of the table is subtracted, s.
    pub added: f64,
    /// Whether it starts a stretch.
    begins: bool,
}

/// What else the table holds besides rows.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Met {
    pub missing: u64,
    pub over: u64,
    pub headers: u64,
    /// Unreadable rows.
    pub unreadable: u64,
    /// The first unreadable row: line, field, column.
    pub first_unreadable: Option<(u64, String, usize)>,
    /// Unreadable rows after the last row.
    pub trailing: u64,
    /// Steps back in time and repeated times.
    pub back: u64,
    /// Line of a number with thousands separators.
    pub thousands: Option<u64>,
    /// Lines and times (s) of the first gaps.
    pub gaps: Vec<(u64, f64)>,
}

/// Takes rows and builds stretches and cells.
pub(crate) struct Builder {
    /// Line at which the next chunk starts.
    line: u64,
    pace: Pace,
    has_times: bool,
    clock: Midnight,
    zero: Option<f64>,
    /// Rows so far, or steps so far for a table without times.
    rows: u64,
    ticks: u64,
    last_s: f64,
    broken: bool,
    size: u32,
    times: Vec<f64>,
    pub stretches: Vec<Stretch>,
    pub cells: Vec<RowCell>,
    pub met: Met,
}

impl Builder {
    /// `line` is the line of the first row, counted from 1. `has_times` says that rows have times, scaled to s by the
    /// caller; `of_day`, that they are times of day.
    pub fn new(line: u64, pace: Pace, has_times: bool, of_day: bool) -> Builder {
        Builder {
            line,
            pace,
            has_times,
            clock: Midnight::new(of_day),
            zero: None,
            rows: 0,
            ticks: 0,
            last_s: 0.0,
            broken: false,
            size: CELL_ROWS,
            times: Vec::new(),
            stretches: Vec::new(),
            cells: Vec::new(),
            met: Met::default(),
        }
    }

    /// Takes the rows of the next chunk, which starts at offset `at` in the text.
    pub fn push(&mut self, rows: &Rows, at: u64) {
        let line = self.line;
        self.line += rows.lines;
        let mut events = rows.events.iter().peekable();
        for k in 0..rows.len() {
            while let Some(event) = events.next_if(|e| e.row <= k) {
                self.event(event, line);
            }
            let place = at + u64::from(rows.places[k]);
            let values = [
                rows.columns[1][k],
                rows.columns[2].get(k).copied().unwrap_or(0.0),
            ];
            let written = if self.has_times {
                rows.columns[TIME][k]
            } else {
                self.ticks as f64 * self.pace.step
            };
            self.row(written, values, place, line + k as u64);
        }
        events.for_each(|event| self.event(event, line));
    }

    fn event(&mut self, event: &RowEvent, line: u64) {
        let here = line + event.line;
        self.ticks += 1;
        self.broken = true;
        match &event.why {
            Why::Missing => self.met.missing += 1,
            Why::Over => self.met.over += 1,
            Why::Header => self.met.headers += 1,
            Why::Thousands => _ = self.met.thousands.get_or_insert(here),
            Why::Unreadable(text, column) => {
                self.met.unreadable += 1;
                self.met.trailing += 1;
                self.met
                    .first_unreadable
                    .get_or_insert_with(|| (here, text.clone(), *column));
            }
        }
    }

    #[inline]
    fn row(&mut self, written: f64, values: [f64; 2], place: u64, line: u64) {
        let mut time = self.clock.pass(written) - *self.zero.get_or_insert(written);
        let step = time - self.last_s;
        if self.rows == 0 || self.broken || !self.pace.follows(step) {
            time = self.begin(time, written, line);
            self.open_cell(time, place, true);
        } else if self.cells.last().is_some_and(|c| c.rows == self.size) {
            self.close_cell();
            self.open_cell(time, place, false);
        }
        self.last_s = time;
        self.rows += 1;
        self.ticks += 1;
        self.times.push(time);
        let (Some(stretch), Some(cell)) = (self.stretches.last_mut(), self.cells.last_mut()) else {
            return;
        };
        if stretch.rows > 0 {
            stretch.steps += self.pace.steps(step);
        }
        (stretch.rows, stretch.to_s) = (stretch.rows + 1, time);
        (cell.rows, cell.to_s) = (cell.rows + 1, time);
        for (stat, value) in cell.stats.iter_mut().zip(values) {
            stat.min = stat.min.min(value);
            stat.max = stat.max.max(value);
            stat.mean += value;
        }
    }

    /// Starts a stretch and returns its time; a time that goes back is placed one step after the last row.
    #[cold]
    fn begin(&mut self, time: f64, written: f64, line: u64) -> f64 {
        let mut from_s = time;
        if self.rows > 0 {
            if time <= self.last_s {
                self.met.back += 1;
            }
            if time < self.last_s {
                from_s = self.last_s + self.pace.step;
                let zero = self.zero.unwrap_or(0.0);
                self.clock.restart(written, from_s + zero);
            }
            if self.met.gaps.len() < REMEMBERED {
                self.met.gaps.push((line, self.last_s));
            }
            self.close_cell();
        }
        self.met.trailing = 0;
        self.broken = false;
        self.stretches.push(Stretch {
            first: self.rows,
            rows: 0,
            steps: 0,
            from_s,
            to_s: from_s,
        });
        from_s
    }

    fn open_cell(&mut self, from_s: f64, at: u64, begins: bool) {
        if self.cells.len() >= CELLS && self.stretches.len() < CELLS / 4 {
            self.double();
        }
        let empty = Stat {
            min: f64::INFINITY,
            max: f64::NEG_INFINITY,
            mean: 0.0,
        };
        self.cells.push(RowCell {
            first: self.rows,
            rows: 0,
            at,
            from_s,
            to_s: from_s,
            off: 0.0,
            stats: [empty; 2],
            added: self.clock.added,
            begins,
        });
        self.times.clear();
    }

    fn close_cell(&mut self) {
        if let Some(cell) = self.cells.last_mut() {
            cell.off = off_line(&self.times);
        }
    }

    /// Spacing of the rows.
    pub fn pace(&self) -> Pace {
        self.pace
    }

    /// Number of rows.
    pub fn rows(&self) -> u64 {
        self.rows
    }

    /// Written time of the first row, s, which is the zero of all times.
    pub fn zero(&self) -> f64 {
        self.zero.unwrap_or(0.0)
    }

    /// Finishes after the last row: turns sums into means and joins cells until they last about `lasting_s`, s.
    pub fn finish(&mut self, lasting_s: f64) {
        self.close_cell();
        while f64::from(2 * self.size) * self.pace.step <= lasting_s && self.cells.len() > 1 {
            self.double();
        }
        for cell in &mut self.cells {
            let rows = f64::from(cell.rows);
            cell.stats.iter_mut().for_each(|stat| stat.mean /= rows);
        }
    }

    /// Joins cells in pairs within each stretch.
    fn double(&mut self) {
        self.size *= 2;
        let mut joined: Vec<RowCell> = Vec::with_capacity(self.cells.len() / 2 + 1);
        let mut single = false;
        for cell in self.cells.drain(..) {
            match joined.last_mut() {
                Some(last) if single && !cell.begins => {
                    last.join(&cell);
                    single = false;
                }
                _ => {
                    joined.push(cell);
                    single = true;
                }
            }
        }
        self.cells = joined;
    }
}

impl RowCell {
    fn join(&mut self, next: &RowCell) {
        let rows = self.rows + next.rows;
        let line = self.from_s
            + (next.to_s - self.from_s) * f64::from(self.rows) / f64::from(rows.max(2) - 1);
        self.off = self.off.max(next.off) + (next.from_s - line).abs();
        self.rows = rows;
        self.to_s = next.to_s;
        for (stat, other) in self.stats.iter_mut().zip(&next.stats) {
            *stat = Stat {
                min: stat.min.min(other.min),
                max: stat.max.max(other.max),
                mean: stat.mean + other.mean,
            };
        }
    }
}

/// Maximum deviation of times from the straight line between first and last.
fn off_line(times: &[f64]) -> f64 {
    let (Some(first), Some(last)) = (times.first(), times.last()) else {
        return 0.0;
    };
    let step = (last - first) / (times.len().max(2) - 1) as f64;
    times
        .iter()
        .enumerate()
        .map(|(k, t)| (t - (first + k as f64 * step)).abs())
        .fold(0.0, f64::max)
}
