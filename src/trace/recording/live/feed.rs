//! Bytes that come in, of a WAV file or a table, become frames.

use std::io::Cursor;

use crate::error::{Error, ErrorKind, Result};
use crate::job::Logger;
use crate::recording::live::frames::Frames;
use crate::recording::open::{table_traces, wav_traces};
use crate::recording::scale::Scale;
use crate::recording::source::{CURRENT, TRACES};
use crate::recording::table::pace::{Midnight, Pace};
use crate::recording::table::rows::{Reading, Rows, TIME};
use crate::recording::table::{Layout, Timing, pace_of, scale_times};
use crate::recording::wav;
use crate::recording::wav::{Header, read_header, scan};

/// Bytes in which a head must show itself.
const LONGEST_HEAD: usize = 1 << 20;
/// Bytes behind a WAV file's head that tell what it lacks: a frame, or that another chunk follows at once.
const AFTER_HEAD: usize = 64;
/// Lines of a table that its layout and pace are found in.
const FIRST_LINES: usize = 200;
/// A longer line is no text.
const LONGEST_LINE: usize = 1 << 20;
/// A WAV file that promises this many bytes or more does not know its length.
const NO_LENGTH: u64 = 0x7fff_0000;

/// What is known once the head has come.
#[derive(Debug, Clone)]
pub(super) struct FeedState {
    pub rate_hz: f64,
    pub scales: [Scale; 2],
}

/// Takes bytes, gives frames.
#[derive(Default)]
pub(super) struct Feed {
    /// Bytes not yet used: a head, a part of a frame or of a line.
    left: Vec<u8>,
    known: Option<FeedState>,
    body: Option<Body>,
    over: bool,
}

enum Body {
    Wav {
        header: Header,
        chosen: [Option<usize>; TRACES],
        /// Bytes of samples that may follow.
        follow: u64,
        /// What stands behind the samples.
        behind: Behind,
    },
    Table(Box<TableBody>),
}

struct TableBody {
    reading: Reading,
    timing: Timing,
    pace: Pace,
    clock: Midnight,
    /// Written time of the first row, s.
    zero: f64,
    last_s: f64,
    /// The row that follows does not follow the last one.
    broken: bool,
    rows: Rows,
}

/// The chunks behind the samples of a WAV file, as far as they came.
struct Behind {
    /// Bytes to pass over up to the next chunk.
    skip: u64,
    /// Name and size of the next chunk, as far as they came.
    head: Vec<u8>,
}

impl Behind {
    /// Behind samples of this many bytes, whose chunk is padded where that is odd.
    fn new(samples: u64) -> Behind {
        Behind {
            skip: samples % 2,
            head: Vec::new(),
        }
    }

    /// Passes over bytes; whether a further chunk of samples begins in them.
    fn pass(&mut self, mut bytes: &[u8]) -> bool {
        const HEAD: usize = 8;
        while !bytes.is_empty() {
            let skipped = bytes.len().min(self.skip.try_into().unwrap_or(usize::MAX));
            self.skip -= skipped as u64;
            bytes = &bytes[skipped..];
            let taken = bytes.len().min(HEAD - self.head.len());
            self.head.extend_from_slice(&bytes[..taken]);
            bytes = &bytes[taken..];
            if let &[a, b, c, d, w, x, y, z] = &self.head[..] {
                if &[a, b, c, d] == b"data" {
                    return true;
                }
                let size = u64::from(u32::from_le_bytes([w, x, y, z]));
                self.skip = size + size % 2;
                self.head.clear();
            }
        }
        false
    }
}

impl Feed {
    pub fn known(&self) -> Option<&FeedState> {
        self.known.as_ref()
    }

    pub fn is_over(&self) -> bool {
        self.over
    }

    pub fn push(&mut self, bytes: &[u8], at: &str, logger: &Logger, to: &mut Frames) -> Result<()> {
        self.left.extend_from_slice(bytes);
        if self.body.is_none() && !self.begin(at, logger, false)? {
            return Ok(());
        }
        self.take(to, at)
    }

    pub fn finish(&mut self, at: &str, logger: &Logger, to: &mut Frames) -> Result<()> {
        self.over = true;
        if self.body.is_none() && !self.begin(at, logger, true)? {
            return Err(Error::new(ErrorKind::EmptyFile, at, "nothing came")
                .hint("Send a WAV file or a table"));
        }
        if matches!(self.body, Some(Body::Table(_))) && self.left.last() != Some(&b'\n') {
            self.left.push(b'\n');
        }
        self.take(to, at)
    }

    /// Makes what it can of the head; `false` while more of it must come.
    fn begin(&mut self, at: &str, logger: &Logger, all: bool) -> Result<bool> {
        if self.left.is_empty() || self.left.len() < 12 && !all {
            return Ok(false);
        }
        let enough = all || self.left.len() > LONGEST_HEAD;
        if wav::is_wav(&self.left) {
            match read_header(&mut Cursor::new(&self.left), at) {
                Ok(header) if !enough && self.left.len() < header.data_at as usize + AFTER_HEAD => {
                    return Ok(false);
                }
                Ok(header) => self.begin_wav(header, at, logger)?,
                Err(error) if enough => return Err(error),
                Err(_) => return Ok(false),
            }
            return Ok(true);
        }
        if self.left.starts_with(&[0x1f, 0x8b]) || self.left.starts_with(&[0xff, 0xfe]) {
            return Err(Error::new(
                ErrorKind::NeedsWholeRecording,
                at,
                "compressed or 16-bit text cannot be followed",
            )
            .hint("Send plain text, or measure the file"));
        }
        let lines = self.left.iter().filter(|b| **b == b'\n').count();
        if lines < FIRST_LINES && !enough {
            return Ok(false);
        }
        self.begin_table(at, logger)?;
        Ok(true)
    }

    fn begin_wav(&mut self, header: Header, at: &str, logger: &Logger) -> Result<()> {
        let (chosen, scales) = wav_traces(&header, logger, at)?;
        let rate_hz = f64::from(header.rate_hz);
        self.left.drain(..header.data_at as usize);
        let stated = header.stated.filter(|n| (1..NO_LENGTH).contains(n));
        self.known = Some(FeedState { rate_hz, scales });
        self.body = Some(Body::Wav {
            header,
            chosen,
            follow: stated.unwrap_or(u64::MAX),
            behind: Behind::new(stated.unwrap_or(0)),
        });
        Ok(())
    }

    /// Layout and pace come from the first lines only, however many have come with them.
    fn begin_table(&mut self, at: &str, logger: &Logger) -> Result<()> {
        let first = memchr::memchr_iter(b'\n', &self.left).take(FIRST_LINES);
        let head = &self.left[..first.last().map_or(self.left.len(), |k| k + 1)];
        let layout = Layout::of(head, at)?;
        let (timing, columns, scales) = table_traces(&layout, logger, at)?;
        let slots = [timing.column(), columns[0], columns[1], columns[2]];
        let reading = Reading::new(&layout, slots);
        let mut rows = Rows::default();
        reading.rows(&head[layout.rows_at as usize..], &mut rows);
        self.left.drain(..layout.rows_at as usize);
        scale_times(&mut rows, timing);
        let times = &rows.columns[TIME];
        let pace = pace_of(&layout, times, timing, at)?;
        self.known = Some(FeedState {
            rate_hz: 1.0 / pace.step,
            scales,
        });
        self.body = Some(Body::Table(Box::new(TableBody {
            zero: times.first().copied().unwrap_or(0.0),
            last_s: 0.0,
            broken: false,
            clock: Midnight::new(matches!(timing, Timing::Clock(_))),
            reading,
            timing,
            pace,
            rows,
        })));
        Ok(())
    }

    /// Turns whole frames of what is left into values.
    fn take(&mut self, to: &mut Frames, at: &str) -> Result<()> {
        let used = match &mut self.body {
            None => 0,
            Some(Body::Wav {
                header,
                chosen,
                follow,
                behind,
            }) => {
                let there = (self.left.len() as u64).min(*follow) as usize;
                let used = there - there % header.frame_bytes();
                let bytes = &self.left[..used];
                for (trace, channel) in chosen.iter().enumerate() {
                    if let Some(channel) = *channel {
                        let column = &mut to.raw[trace];
                        scan::decode(bytes, header.coding, header.channels, channel, column);
                    }
                }
                *follow -= used as u64;
                // What stands behind the samples is no sample.
                if *follow >= header.frame_bytes() as u64 {
                    used
                } else if behind.pass(&self.left[used..]) {
                    return Err(wav::scattered(at));
                } else {
                    *follow = 0;
                    self.left.len()
                }
            }
            Some(Body::Table(table)) => {
                let whole = memchr::memrchr(b'\n', &self.left).map_or(0, |k| k + 1);
                if self.left.len() - whole > LONGEST_LINE {
                    return Err(Error::new(
                        ErrorKind::NotARecording,
                        at,
                        "this is no text: a line does not end",
                    )
                    .hint("WAV files and tables of text are read"));
                }
                table.take(&self.left[..whole], to);
                whole
            }
        };
        self.left.drain(..used);
        Ok(())
    }
}

impl TableBody {
    fn take(&mut self, text: &[u8], to: &mut Frames) {
        self.reading.rows(text, &mut self.rows);
        scale_times(&mut self.rows, self.timing);
        let mut events = self.rows.events.iter().peekable();
        let has_times = self.timing.column().is_some();
        for k in 0..self.rows.len() {
            let mut follows = !std::mem::take(&mut self.broken);
            while events.next_if(|e| e.row <= k).is_some() {
                follows = false;
            }
            if has_times {
                let mut time = self.clock.pass(self.rows.columns[TIME][k]) - self.zero;
                follows &= self.pace.follows(time - self.last_s);
                if !follows && time < self.last_s {
                    // The logger began anew: it goes on a step behind the last row.
                    let written = self.rows.columns[TIME][k];
                    time = self.last_s + self.pace.step;
                    self.clock.restart(written, time + self.zero);
                }
                self.last_s = time;
                to.times.push(time);
            }
            let count = to.len();
            if !follows && count > 0 {
                to.breaks.push(count);
            }
            for (column, values) in to.raw.iter_mut().zip(&self.rows.columns[CURRENT + 1..]) {
                column.extend(values.get(k));
            }
        }
        self.broken |= events.next().is_some();
    }
}
