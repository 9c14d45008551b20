//! WAV files: the header is checked once, then blocks of raw samples are read by position.

mod header;
pub(crate) mod scan;

use std::io::BufReader;
use std::ops::Range;

use rayon::prelude::*;

use crate::bytes::Bytes;
use crate::error::{Error, ErrorKind, Result};
use crate::recording::Segment;
use crate::recording::finding::Finding;
use crate::recording::source::{CURRENT, Raw, RawCell, ReadPlan, Source, TRACES, VOLTAGE};
pub(crate) use header::{Header, read as read_header, scattered};

/// Minimum number of bytes per read.
const AHEAD: usize = 1 << 14;
/// Bytes that one core surveys at a time, few enough to stay in its cache.
const SURVEYED: u64 = 1 << 18;

/// Whether a file that starts with these bytes is a WAV file.
pub(crate) fn is_wav(start: &[u8]) -> bool {
    start.len() >= 12
        && [b"RIFF", b"RF64", b"BW64"].contains(&&start[..4].try_into().expect("four bytes"))
        && &start[8..12] == b"WAVE"
}

/// Two channels, counted from 0, to survey as current and voltage.
type Pair = [Option<usize>; 2];

/// Samples of a WAV file.
pub(crate) struct Wav {
    file: Bytes,
    header: Header,
    segments: [Segment; 1],
    channels: [Option<usize>; TRACES],
    /// The frames read last, and their bytes, with older ones behind them.
    held: Range<u64>,
    bytes: Vec<u8>,
}

impl Wav {
    /// Opens a file; [`Wav::choose`] assigns channels to traces.
    ///
    /// # Errors
    /// Unreadable or unsupported file.
    pub fn open(file: &Bytes) -> Result<Wav> {
        let header = header::read(&mut BufReader::new(file.cursor(0)), file.name())?;
        let segments = [Segment {
            first: 0,
            frames: header.frames,
            from_s: 0.0,
        }];
        Ok(Wav {
            file: file.clone(),
            header,
            segments,
            channels: [None; TRACES],
            held: 0..0,
            bytes: Vec::new(),
        })
    }

    /// The header.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Findings about the length of the file.
    pub fn findings(&self) -> &[Finding] {
        &self.header.findings
    }

    /// Assigns channels, counted from 0, to traces.
    pub fn choose(&mut self, channels: [Option<usize>; TRACES]) {
        assert!(
            channels.iter().flatten().all(|&c| c < self.header.channels),
            "channels that are there"
        );
        self.channels = channels;
    }

    /// Fills `bytes` with complete frames from `first` on.
    fn fetch(&self, first: u64, bytes: &mut [u8]) -> Result<()> {
        let at = self.header.data_at + first * self.header.frame_bytes() as u64;
        self.file.read_at(at, bytes)
    }

    /// Surveys every channel in one pass over the file. Each survey holds two channels; the last one may appear
    /// twice.
    ///
    /// # Errors
    /// Read errors, and samples that are not finite numbers.
    pub fn survey_all(&self) -> Result<Vec<Vec<RawCell>>> {
        let last = self.header.channels - 1;
        let pairs: Vec<Pair> = (0..=last)
            .step_by(2)
            .map(|k| [Some(k), Some(last.min(k + 1))])
            .collect();
        self.survey_pairs(&pairs)
    }

    /// Surveys pairs of channels in one pass over the file.
    fn survey_pairs(&self, pairs: &[Pair]) -> Result<Vec<Vec<RawCell>>> {
        let plan = ReadPlan::of(&self.segments, self.rate_hz());
        let cells: Vec<Range<u64>> = plan.cells().collect();
        let part = (SURVEYED / (plan.cell() * self.header.frame_bytes() as u64)).max(1) as usize;
        let parts: Vec<Result<Vec<Vec<RawCell>>>> = cells
            .par_chunks(part)
            .map_init(Vec::new, |bytes, cells| {
                self.fetch_cells(cells, bytes)?;
                let survey = |pair: &Pair| self.survey_part(cells, bytes, *pair);
                pairs.iter().map(survey).collect()
            })
            .collect();
        let mut all = vec![Vec::with_capacity(cells.len()); pairs.len()];
        for part in parts {
            for (to, cells) in all.iter_mut().zip(part?) {
                to.extend(cells);
            }
        }
        Ok(all)
    }

    /// Reads the bytes of consecutive cells.
    fn fetch_cells(&self, cells: &[Range<u64>], bytes: &mut Vec<u8>) -> Result<()> {
        let (first, end) = (cells[0].start, cells[cells.len() - 1].end);
        bytes.resize((end - first) as usize * self.header.frame_bytes(), 0);
        self.fetch(first, bytes)
    }

    /// Surveys the cells of one block of bytes that fits the cache.
    fn survey_part(&self, cells: &[Range<u64>], bytes: &[u8], pair: Pair) -> Result<Vec<RawCell>> {
        let mut to = Vec::with_capacity(cells.len());
        let first = cells[0].start;
        let size = self.header.frame_bytes();
        for cell in cells {
            let part =
                &bytes[(cell.start - first) as usize * size..(cell.end - first) as usize * size];
            let stats = scan::stats(part, self.header.coding, self.header.channels, pair);
            if let Some(bad) = stats
                .iter()
                .find(|s| !(s.min.is_finite() && s.max.is_finite() && s.mean.is_finite()))
            {
                let from = cell.start as f64 / self.rate_hz();
                return Err(Error::new(
                    ErrorKind::NotFinite,
                    self.file.name(),
                    format!(
                        "samples near {from:.3} s are not finite numbers ({} to {})",
                        bad.min, bad.max
                    ),
                )
                .hint("Save it again from the logger, as integers if it can"));
            }
            to.push(RawCell {
                first: cell.start,
                frames: (cell.end - cell.start) as u32,
                stats,
            });
        }
        Ok(to)
    }
}

impl Source for Wav {
    fn rate_hz(&self) -> f64 {
        f64::from(self.header.rate_hz)
    }

    fn segments(&self) -> &[Segment] {
        &self.segments
    }

    fn has(&self, trace: usize) -> bool {
        self.channels[trace].is_some()
    }

    fn read(&mut self, range: Range<u64>, raw: &mut Raw) -> Result<()> {
        raw.iter_mut().for_each(Vec::clear);
        if range.is_empty() {
            return Ok(());
        }
        let size = self.header.frame_bytes();
        if range.start < self.held.start || range.end > self.held.end {
            let most = self.header.frames - range.start;
            let frames = (range.end - range.start)
                .max((AHEAD / size) as u64)
                .min(most);
            let count = frames as usize * size;
            let mut bytes = std::mem::take(&mut self.bytes);
            self.held = 0..0;
            bytes.resize(bytes.len().max(count), 0);
            self.fetch(range.start, &mut bytes[..count])?;
            (self.bytes, self.held) = (bytes, range.start..range.start + frames);
        }
        let from = (range.start - self.held.start) as usize * size;
        let part = &self.bytes[from..from + (range.end - range.start) as usize * size];
        for (to, channel) in raw.iter_mut().zip(self.channels) {
            if let Some(channel) = channel {
                scan::decode(part, self.header.coding, self.header.channels, channel, to);
            }
        }
        Ok(())
    }

    fn survey(&mut self) -> Result<Vec<RawCell>> {
        let chosen = [self.channels[CURRENT], self.channels[VOLTAGE]];
        Ok(self.survey_pairs(&[chosen])?.remove(0))
    }
}
