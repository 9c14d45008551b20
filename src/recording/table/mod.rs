//! Text tables (CSV and similar): the layout is detected from the head, one pass surveys the rows, and rows are read
//! again by position.

mod build;
mod field;
mod findings;
mod layout;
pub(crate) mod pace;
pub(crate) mod rows;
mod stream;
pub(crate) mod words;

use std::ops::Range;

use rayon::prelude::*;

use crate::bytes::Bytes;
use crate::error::{Error, ErrorKind, Result};
use crate::recording::Segment;
use crate::recording::finding::Finding;
use crate::recording::source::{
    CURRENT, Raw, RawCell, ReadPlan, Source, VOLTAGE, rate_fault, survey_by_reading,
};
use build::{Builder, RowCell, Stretch};
use field::Written;
pub(crate) use layout::{Column, Content, Layout};
use pace::{Midnight, Pace};
use rows::{Reading, Rows, SLOTS, TIME};
use stream::Stream;

/// Bytes of text that one core takes at a time during the survey.
const SURVEYED: usize = 1 << 16;
/// Bytes of text per read after the survey.
const REREAD: usize = 1 << 16;
/// Approximate length of a cell of an even table, s.
const CELL_S: f64 = 0.02;

/// How a table gives the time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Timing {
    /// A column; the second value is its unit in s.
    Column(usize, f64),
    /// A column of times of day or dates.
    Clock(usize),
    /// Rows at an even rate, Hz.
    Rate(f64),
}

impl Timing {
    /// Index of the time column, counted from 0.
    pub fn column(self) -> Option<usize> {
        match self {
            Timing::Column(column, _) | Timing::Clock(column) => Some(column),
            Timing::Rate(_) => None,
        }
    }
}

/// A table with a known layout.
pub(crate) struct Head {
    file: Bytes,
    pub layout: Layout,
}

impl Head {
    /// Detects the layout of a table.
    ///
    /// # Errors
    /// Unreadable file, or not a table.
    pub fn open(file: &Bytes) -> Result<Head> {
        let (mut head, mut stream) = (Vec::new(), Stream::open(file)?);
        stream.chunk(layout::HEAD, &mut head)?;
        let layout = Layout::of(&head, file.name())?;
        Ok(Head {
            file: file.clone(),
            layout,
        })
    }

    fn stream(&self) -> Result<Stream> {
        let mut stream = Stream::open(&self.file)?;
        stream.seek(self.layout.rows_at)?;
        Ok(stream)
    }
}

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
        let cursor = Cursor {
            stream,
            reading,
            held: Rows::default(),
            first: 0,
        };
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

/// Number of chunks parsed in parallel.
const SIDE_BY_SIDE: usize = 16;

/// A chunk of text, its offset, and its rows.
#[derive(Default)]
struct Chunk {
    text: Vec<u8>,
    at: u64,
    rows: Rows,
}

/// Consecutive chunks; fewer than there is room for at the end of the text.
#[derive(Default)]
struct Chunks {
    room: [Chunk; SIDE_BY_SIDE],
    filled: usize,
}

impl Chunks {
    fn fill(&mut self, stream: &mut Stream) -> Result<()> {
        self.filled = 0;
        for chunk in &mut self.room {
            match stream.chunk(SURVEYED, &mut chunk.text)? {
                Some(place) => chunk.at = place,
                None => break,
            }
            self.filled += 1;
        }
        Ok(())
    }

    fn parse(&mut self, reading: &Reading, timing: Timing) {
        self.room[..self.filled].par_iter_mut().for_each(|chunk| {
            reading.rows(&chunk.text, &mut chunk.rows);
            scale_times(&mut chunk.rows, timing);
        });
    }

    /// Passes the rows to the builder, which is created from the first of them.
    fn build(&self, builder: &mut Option<Builder>, head: &Head, timing: Timing) -> Result<()> {
        for chunk in &self.room[..self.filled] {
            let builder = match builder {
                Some(builder) => builder,
                None => builder.insert(start(head, &chunk.rows.columns[TIME], timing)?),
            };
            builder.push(&chunk.rows, chunk.at);
        }
        Ok(())
    }
}

/// Reads the text once as a pipeline: while some chunks are parsed on all cores, the ones before go into the builder
/// in order, and the ones after are read.
fn survey(head: &Head, stream: &mut Stream, reading: &Reading, timing: Timing) -> Result<Builder> {
    let mut builder = None;
    let [mut before, mut now, mut next] = [(); 3].map(|()| Chunks::default());
    now.fill(stream)?;
    while now.filled > 0 {
        let (built, (filled, ())) = rayon::join(
            || before.build(&mut builder, head, timing),
            || rayon::join(|| next.fill(stream), || now.parse(reading, timing)),
        );
        built.and(filled)?;
        if builder.as_ref().is_some_and(findings::is_torn) {
            break;
        }
        (before, now, next) = (now, next, before);
    }
    before.build(&mut builder, head, timing)?;
    let mut builder = match builder {
        Some(builder) => builder,
        None => start(head, &[], timing)?,
    };
    builder.finish(CELL_S);
    Ok(builder)
}

/// Scales times to s.
pub(crate) fn scale_times(rows: &mut Rows, timing: Timing) {
    if let Timing::Column(_, unit) = timing {
        rows.columns[TIME].iter_mut().for_each(|t| *t *= unit);
    }
}

fn start(head: &Head, times: &[f64], timing: Timing) -> Result<Builder> {
    let pace = pace_of(&head.layout, times, timing, head.file.name())?;
    let of_day = matches!(timing, Timing::Clock(_));
    let has_times = timing.column().is_some();
    Ok(Builder::new(
        head.layout.first_line,
        pace,
        has_times,
        of_day,
    ))
}

/// Works out the spacing of the rows from the first times, s.
///
/// # Errors
/// Times that do not rise.
pub(crate) fn pace_of(layout: &Layout, times: &[f64], timing: Timing, at: &str) -> Result<Pace> {
    let (column, unit) = match timing {
        Timing::Rate(rate) => {
            return Ok(Pace {
                step: 1.0 / rate,
                resolution: 0.0,
            });
        }
        Timing::Column(column, unit) => (column, unit),
        Timing::Clock(column) => (column, 1.0),
    };
    let fields = layout::fields(&layout.first_row, layout.delimiter);
    let resolution = fields.get(column).map_or(0.0, |f| field::resolution(f)) * unit;
    let pace = Pace::of(times, resolution).ok_or_else(|| {
        Error::new(
            ErrorKind::UnclearTime,
            at,
            "the times do not rise from row to row",
        )
        .hint(OTHER_TIMES)
    })?;
    checked_rate(1.0 / pace.step, at).map(|()| pace)
}

/// Way out if times cannot be used.
const OTHER_TIMES: &str =
    "Choose another column with time = { column = \"…\", unit = \"s\" }, or state rate_hz";

/// Checks that a rate worked out from times is plausible.
fn checked_rate(rate_hz: f64, at: &str) -> Result<()> {
    match rate_fault(rate_hz) {
        None => Ok(()),
        Some(problem) => Err(Error::new(ErrorKind::SampleRate, at, problem).hint(OTHER_TIMES)),
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

/// Reads rows again, by number.
struct Cursor {
    stream: Stream,
    reading: Reading,
    held: Rows,
    /// Number of the first row in the chunk.
    first: u64,
}

impl Cursor {
    /// Loads the chunk that holds a row; returns the number of its first row.
    fn holding(&mut self, row: u64, cells: &[RowCell]) -> Result<(&Rows, u64)> {
        let mut chunk = Vec::new();
        if !(self.first..=self.first + self.held.len() as u64).contains(&row)
            || self.held.len() == 0
        {
            let cell = &cells[cells.partition_point(|c| c.first <= row) - 1];
            self.stream.seek(cell.at)?;
            self.held.clear();
            self.first = cell.first;
        }
        while row >= self.first + self.held.len() as u64 {
            self.first += self.held.len() as u64;
            if self.stream.chunk(REREAD, &mut chunk)?.is_none() {
                return Err(self.stream.changed());
            }
            self.reading.rows(&chunk, &mut self.held);
        }
        Ok((&self.held, self.first))
    }

    /// Returns one row, with its time in s as written.
    fn row(&mut self, row: u64, cells: &[RowCell], timing: Timing) -> Result<[f64; SLOTS]> {
        let (rows, first) = self.holding(row, cells)?;
        let k = (row - first) as usize;
        let mut values =
            [0, 1, 2, 3].map(|slot: usize| rows.columns[slot].get(k).copied().unwrap_or(0.0));
        if let Timing::Column(_, unit) = timing {
            values[TIME] *= unit;
        }
        Ok(values)
    }
}
