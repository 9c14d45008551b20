//! Reads a text file as chunks of complete lines, plain or gzip, UTF-8 or UTF-16, from any position in fixed memory.

use std::io::{self, BufReader, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use encoding_rs::{Decoder, UTF_16BE, UTF_16LE};
use flate2::bufread::GzDecoder;

use crate::bytes::{Bytes, Cursor};
use crate::error::{Error, ErrorKind, Result};
use crate::recording::table::rewind::Rewind;

/// Maximum length of a line of text.
const LONGEST_LINE: usize = 1 << 20;

/// This much of a text that is unpacked is held, bytes: what is measured lies behind what is looked through by some tens of seconds.
const HELD: usize = 96 << 20;

/// Bytes within which the first line must end, to detect the line ending.
const START: u64 = 1 << 12;

/// Chunks of complete lines.
pub(crate) struct Stream {
    /// The file that `reader` reads.
    file: Bytes,
    reader: Text,
    /// Whether lines end in a carriage return alone.
    returns_only: bool,
    /// Offset of the first byte of `left` in the text.
    at: u64,
    /// Bytes that were read but not returned yet.
    left: Vec<u8>,
    over: bool,
    cut: bool,
    /// Set once bytes that are not compressed text were met behind it.
    behind: Arc<AtomicBool>,
}

/// The text of a file.
enum Text {
    /// As it is stored: any position can be read directly.
    Plain(Cursor),
    /// Unpacked, or of another encoding.
    Made(Rewind),
}

impl Read for Text {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        match self {
            Text::Plain(file) => file.read(to),
            Text::Made(text) => text.read(to),
        }
    }
}

impl Stream {
    /// Opens a file at its start.
    ///
    /// # Errors
    /// Unreadable file.
    pub fn open(file: &Bytes) -> Result<Stream> {
        let io = |e| file.refused(e);
        let mut start = Vec::new();
        // A file that cannot be decompressed fails on the next read.
        let _ = reader(file, &Arc::default())
            .map_err(io)?
            .take(START)
            .read_to_end(&mut start);
        let behind = Arc::default();
        Ok(Stream {
            reader: reader(file, &behind).map_err(io)?,
            behind,
            file: file.clone(),
            // Some old instruments write lines this way.
            returns_only: start.contains(&b'\r') && !start.contains(&b'\n'),
            at: 0,
            left: Vec::new(),
            over: false,
            cut: false,
        })
    }

    /// Whether a compressed file ends too early.
    pub fn is_cut(&self) -> bool {
        self.cut
    }

    /// Whether a compressed file goes on behind its end.
    pub fn has_more_behind(&self) -> bool {
        self.behind.load(Ordering::Relaxed)
    }

    /// Error for rows that have disappeared since the survey.
    pub fn changed(&self) -> Error {
        Error::changed(self.file.name())
    }

    /// Moves to an offset in the text; a compressed file is read again up to there, where that lies too far back.
    ///
    /// # Errors
    /// Unreadable file.
    pub fn seek(&mut self, at: u64) -> Result<()> {
        let held = self.at..=self.at + self.left.len() as u64;
        if held.contains(&at) {
            self.left.drain(..(at - self.at) as usize);
            self.at = at;
            return Ok(());
        }
        let io = |e| self.file.refused(e);
        let behind = self.at + self.left.len() as u64;
        match &mut self.reader {
            Text::Plain(file) => *file = self.file.cursor(at),
            Text::Made(text) => {
                let mut skip = at.wrapping_sub(behind);
                if at < behind {
                    skip = 0;
                    if !text.back(behind - at) {
                        self.reader = reader(&self.file, &self.behind).map_err(io)?;
                        skip = at;
                    }
                }
                io::copy(&mut self.reader.by_ref().take(skip), &mut io::sink()).map_err(io)?;
            }
        }
        self.left.clear();
        self.at = at;
        self.over = false;
        Ok(())
    }

    /// Fills `chunk` with about `size` bytes of complete lines and returns their offset; `None` at the end.
    ///
    /// # Errors
    /// Unreadable file, or a line too long to be text.
    pub fn chunk(&mut self, size: usize, chunk: &mut Vec<u8>) -> Result<Option<u64>> {
        chunk.clear();
        std::mem::swap(chunk, &mut self.left);
        let mut cut = None;
        while cut.is_none() {
            let fresh = chunk.len();
            if !self.over {
                self.fill(size, chunk)?;
            }
            cut = memchr::memrchr(b'\n', &chunk[fresh.min(chunk.len())..]).map(|k| fresh + k + 1);
            if self.over {
                cut = Some(chunk.len());
            } else if cut.is_none() && chunk.len() > LONGEST_LINE {
                let at = self.file.name();
                return Err(Error::new(
                    ErrorKind::NotARecording,
                    at,
                    "this is not text: a line is over a million characters long",
                )
                .hint("WAV files and tables of text are read"));
            }
        }
        self.left.extend_from_slice(&chunk[cut.unwrap_or(0)..]);
        chunk.truncate(cut.unwrap_or(0));
        let at = self.at;
        self.at += chunk.len() as u64;
        Ok((!chunk.is_empty()).then_some(at))
    }

    /// Appends `size` bytes, or fewer at the end.
    fn fill(&mut self, size: usize, chunk: &mut Vec<u8>) -> Result<()> {
        let from = chunk.len();
        match self.reader.by_ref().take(size as u64).read_to_end(chunk) {
            Ok(got) => self.over = got < size,
            // The chunk holds what could be read of a truncated compressed file.
            Err(e) => match (&self.reader, e.kind()) {
                (Text::Made(_), io::ErrorKind::UnexpectedEof) => {
                    (self.over, self.cut) = (true, true);
                }
                _ => return Err(self.file.refused(e)),
            },
        }
        if self.returns_only {
            chunk[from..]
                .iter_mut()
                .filter(|b| **b == b'\r')
                .for_each(|b| *b = b'\n');
        }
        Ok(())
    }
}

/// The text of a file from its start on.
fn reader(file: &Bytes, behind: &Arc<AtomicBool>) -> io::Result<Text> {
    let mut start = Vec::new();
    file.cursor(0).take(2).read_to_end(&mut start)?;
    let packed = start == GZIP;
    let open = || -> Box<dyn Read + Send> {
        match packed {
            true => Box::new(Unpacked::new(file, behind)),
            false => Box::new(file.cursor(0)),
        }
    };
    let mut start = Vec::new();
    // A file that cannot be decompressed fails on the next read.
    let _ = open().take(4).read_to_end(&mut start);
    let wide = match start[..] {
        [0xff, 0xfe, ..] | [_, 0, _, 0] => Some(UTF_16LE),
        [0xfe, 0xff, ..] | [0, _, 0, _] => Some(UTF_16BE),
        _ => None,
    };
    let made: Box<dyn Read + Send> = match wide {
        Some(encoding) => Box::new(Narrow {
            inner: open(),
            decoder: encoding.new_decoder(),
            bytes: Vec::new(),
            text: Vec::new(),
            given: 0,
            over: false,
        }),
        None if packed => open(),
        None => return Ok(Text::Plain(file.cursor(0))),
    };
    Ok(Text::Made(Rewind::new(made, HELD)))
}

/// The two bytes that a gzip member begins with (RFC 1952, 2.3.1).
const GZIP: [u8; 2] = [0x1f, 0x8b];

/// Reads gzip members one after the other, and stops at bytes that are none: some archivers pad files with zeros.
struct Unpacked {
    /// `None` at the end.
    member: Option<GzDecoder<BufReader<Cursor>>>,
    behind: Arc<AtomicBool>,
}

impl Unpacked {
    fn new(file: &Bytes, behind: &Arc<AtomicBool>) -> Unpacked {
        Unpacked {
            member: Some(GzDecoder::new(BufReader::new(file.cursor(0)))),
            behind: Arc::clone(behind),
        }
    }
}

impl Read for Unpacked {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        while let Some(member) = &mut self.member {
            let got = member.read(to)?;
            if got > 0 || to.is_empty() {
                return Ok(got);
            }
            let mut rest = self.member.take().expect("it was read").into_inner();
            let mut next = Vec::new();
            rest.by_ref().take(2).read_to_end(&mut next)?;
            if next == GZIP {
                rest.seek_relative(-2)?;
                self.member = Some(GzDecoder::new(rest));
            } else if !next.is_empty() {
                self.behind.store(true, Ordering::Relaxed);
            }
        }
        Ok(0)
    }
}

/// Reads UTF-16 as UTF-8.
struct Narrow {
    inner: Box<dyn Read + Send>,
    decoder: Decoder,
    bytes: Vec<u8>,
    text: Vec<u8>,
    given: usize,
    over: bool,
}

impl Read for Narrow {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        const SIZE: usize = 1 << 14;
        if self.given == self.text.len() && !self.over {
            self.bytes.clear();
            self.inner
                .by_ref()
                .take(SIZE as u64)
                .read_to_end(&mut self.bytes)?;
            self.over = self.bytes.len() < SIZE;
            // Each pair of bytes becomes at most three bytes, and an unpaired remainder a few more.
            self.text.resize(SIZE * 3 / 2 + 16, 0);
            let (_, _, written, _) =
                self.decoder
                    .decode_to_utf8(&self.bytes, &mut self.text, self.over);
            self.text.truncate(written);
            self.given = 0;
        }
        let count = to.len().min(self.text.len() - self.given);
        to[..count].copy_from_slice(&self.text[self.given..self.given + count]);
        self.given += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chunks_of_any_size_join_to_the_whole_text() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.csv");
        let text: String = (0..500).map(|k| format!("{k},{}\n", k * k)).collect();
        std::fs::write(&path, &text).unwrap();
        for size in [7, 64, 1000, 1 << 16] {
            let mut stream = Stream::open(&Bytes::file(&path).unwrap()).unwrap();
            let (mut all, mut chunk) = (Vec::new(), Vec::new());
            while let Some(at) = stream.chunk(size, &mut chunk).unwrap() {
                assert_eq!(at, all.len() as u64);
                assert!(chunk.ends_with(b"\n"));
                all.extend_from_slice(&chunk);
            }
            assert_eq!(all, text.as_bytes());
        }
    }

    #[test]
    fn wide_text_is_read_from_any_place() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wide.csv");
        let text = "t,i\n0,1\n1,2\n2,3\n";
        let wide: Vec<u8> = "\u{feff}"
            .chars()
            .chain(text.chars())
            .flat_map(|c| (c as u16).to_le_bytes())
            .collect();
        std::fs::write(&path, wide).unwrap();
        let (mut stream, mut chunk) = (
            Stream::open(&Bytes::file(&path).unwrap()).unwrap(),
            Vec::new(),
        );
        for at in [0, 8, 12, 4] {
            stream.seek(at).unwrap();
            assert_eq!(stream.chunk(4, &mut chunk).unwrap(), Some(at));
            assert!(text.as_bytes()[at as usize..].starts_with(&chunk));
        }
    }
}
