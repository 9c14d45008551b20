//! Text tables (CSV and similar): the layout is detected from the head, one pass surveys the rows, and rows are read
//! again by position.

mod build;
mod cursor;
mod field;
mod findings;
mod head;
mod layout;
pub(crate) mod pace;
mod rewind;
pub(crate) mod rows;
mod stream;
mod survey;
mod timing;
mod units;
pub(crate) mod words;

pub(crate) use head::Head;
pub(crate) use layout::{Column, Content, Layout};
pub(crate) use timing::{Timing, pace_of, scale_times};

use std::ops::Range;

use crate::error::Result;
use crate::recording::Segment;
use crate::recording::finding::Finding;
use crate::recording::source::{
    CURRENT, Raw, RawCell, ReadPlan, Source, VOLTAGE, survey_by_reading,
};
use build::{RowCell, Stretch};
use cursor::Cursor;
use field::Written;
use pace::Midnight;
use rows::{Reading, TIME};
use survey::survey;
use timing::checked_rate;

/// Rows of a table as frames at one even rate.
pub(crate) struct Table {
    cursor: Cursor,
    timing: Timing,
    rate_hz: f64,
    zero: f64,
    even: bool,
    stretches: Vec<Stretch>,
    segments: Vec<Segment>,
    cells: Vec<RowCell>,
    findings: Vec<Finding>,
    /// Number format of current and voltage.
    written: [Written; 2],
}

impl Table {
    /// Surveys every row once; `values` are the columns of current, voltage and trigger, counted from 0.
    ///
    /// # Errors
    /// Unreadable file, too many unreadable rows, times that do not rise.
    pub fn open(head: Head, timing: Timing, values: [Option<usize>; 3]) -> Result<Table> {
        let time = timing.column();
        let reading = Reading::new(&head.layout, [time, values[0], values[1], values[2]]);
        let mut stream = head.stream()?;
        let builder = survey(&head, &mut stream, &reading, timing)?;
        let written = [values[CURRENT], values[VOLTAGE]]
            .map(|k| k.map_or(Written::default(), |k| head.layout.columns[k].written));
        let at = head.file.name();
        findings::refuse(&builder, at)?;
        let steps: u64 = builder.stretches.iter().map(|s| s.steps).sum();
        let seconds: f64 = builder.stretches.iter().map(|s| s.to_s - s.from_s).sum();
        let rate_hz = match timing {
            Timing::Rate(rate) => rate,
            _ if steps > 0 && seconds > 0.0 => pace::rate(steps, seconds),
            _ => 1.0 / builder.pace().step,
        };
        checked_rate(rate_hz, at)?;
        let off = most_off(&builder.stretches, &builder.cells, rate_hz);
        let even = time.is_none() || builder.pace().is_even(off);
        let mut findings = findings::of(&builder, stream.is_cut(), rate_hz);
        if stream.has_more_behind() {
            findings.push(findings::more_behind(&builder, rate_hz));
        }
        if !even {
            findings.push(findings::uneven(off, rate_hz));
        }
        let cursor = Cursor::new(stream, reading);
        let zero = builder.zero();
        let segments = segments(&builder.stretches, rate_hz, even);
        let (stretches, cells) = (builder.stretches, builder.cells);
        Ok(Table {
            cursor,
            timing,
            rate_hz,
            zero,
            even,
            stretches,
            segments,
            cells,
            findings,
            written,
        })
    }

    /// Value of the last written digit of a trace at its largest values, in units of the table.
    pub fn step(&self, trace: usize) -> f64 {
        let size = |c: &RowCell| c.stats[trace].max.abs().max(c.stats[trace].min.abs());
        let largest = self.cells.iter().map(size).fold(0.0, f64::max);
        self.written[trace].step(largest)
    }

    /// Findings about everything besides even rows.
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    fn read_even(&mut self, range: Range<u64>, raw: &mut Raw) -> Result<()> {
        let mut row = range.start;
        while row < range.end {
            let (rows, first) = self.cursor.holding(row, &self.cells)?;
            let end = range.end.min(first + rows.len() as u64);
            let part = (row - first) as usize..(end - first) as usize;
            for (to, column) in raw.iter_mut().zip(&rows.columns[1..]) {
                to.extend_from_slice(column.get(part.clone()).unwrap_or(&[]));
            }
            row = end;
        }
        Ok(())
    }

    /// Interpolates linearly between the rows on either side of each frame's time.
    fn read_uneven(&mut self, range: Range<u64>, raw: &mut Raw) -> Result<()> {
        let k = self.segments.partition_point(|s| s.first <= range.start) - 1;
        let (segment, stretch) = (self.segments[k], self.stretches[k]);
        let time = |frame: u64| segment.from_s + (frame - segment.first) as f64 / self.rate_hz;
        let inside = self.cells.partition_point(|c| c.first < stretch.first)
            ..self
                .cells
                .partition_point(|c| c.first < stretch.first + stretch.rows);
        let before = self.cells[inside.clone()]
            .partition_point(|c| c.from_s <= time(range.start))
            .max(1)
            - 1;
        let cell = self.cells[inside.start + before];
        let mut clock = Midnight::new(matches!(self.timing, Timing::Clock(_)));
        clock.added = cell.added;
        let mut row = cell.first;
        let mut left = self.cursor.row(row, &self.cells, self.timing)?;
        left[TIME] = clock.pass(left[TIME]) - self.zero;
        let mut right = left;
        for frame in range {
            let t = time(frame);
            while right[TIME] < t && row + 1 < stretch.first + stretch.rows {
                row += 1;
                left = right;
                right = self.cursor.row(row, &self.cells, self.timing)?;
                right[TIME] = clock.pass(right[TIME]) - self.zero;
            }
            let width = right[TIME] - left[TIME];
            let part = if width > 0.0 {
                ((t - left[TIME]) / width).clamp(0.0, 1.0)
            } else {
                1.0
            };
            for (slot, to) in raw
                .iter_mut()
                .enumerate()
                .filter(|(slot, _)| self.cursor.reading.slots[slot + 1].is_some())
            {
                to.push(left[slot + 1] + (right[slot + 1] - left[slot + 1]) * part);
            }
        }
        Ok(())
    }
}

impl Source for Table {
    fn rate_hz(&self) -> f64 {
        self.rate_hz
    }

    fn segments(&self) -> &[Segment] {
        &self.segments
    }

    fn has(&self, trace: usize) -> bool {
        self.cursor.reading.slots[trace + 1].is_some()
    }

    fn read(&mut self, range: Range<u64>, raw: &mut Raw) -> Result<()> {
        raw.iter_mut().for_each(Vec::clear);
        match (range.is_empty(), self.even) {
            (true, _) => Ok(()),
            (_, true) => self.read_even(range, raw),
            (_, false) => self.read_uneven(range, raw),
        }
    }

    fn survey(&mut self) -> Result<Vec<RawCell>> {
        if self.even {
            let cell = |c: &RowCell| RawCell {
                first: c.first,
                frames: c.rows,
                stats: c.stats,
            };
            return Ok(self.cells.iter().map(cell).collect());
        }
        let plan = ReadPlan::of(&self.segments, self.rate_hz);
        survey_by_reading(self, &plan)
    }
}

/// Maximum deviation of a row from the even grid of its stretch, s.
fn most_off(stretches: &[Stretch], cells: &[RowCell], rate_hz: f64) -> f64 {
    let mut k = 0;
    cells.iter().fold(0.0, |most: f64, cell| {
        while k + 1 < stretches.len() && stretches[k + 1].first <= cell.first {
            k += 1;
        }
        let even = |row: u64| stretches[k].from_s + (row - stretches[k].first) as f64 / rate_hz;
        let ends = (cell.from_s - even(cell.first))
            .abs()
            .max((cell.to_s - even(cell.first + u64::from(cell.rows) - 1)).abs());
        most.max(cell.off + ends)
    })
}

fn segments(stretches: &[Stretch], rate_hz: f64, even: bool) -> Vec<Segment> {
    let (mut first, mut end_s) = (0, f64::NEG_INFINITY);
    stretches
        .iter()
        .map(|s| {
            let frames = if even {
                s.rows
            } else {
                ((s.to_s - s.from_s) * rate_hz + 1e-6) as u64 + 1
            };
            // On an even grid the previous stretch may end up to one written digit after its last row.
            let from_s = s.from_s.max(end_s);
            let segment = Segment {
                first,
                frames,
                from_s,
            };
            first += frames;
            end_s = from_s + (frames - 1) as f64 / rate_hz;
            segment
        })
        .collect()
}
