//! A CSV table in blocks of whole lines, as far as each record is one line: the cores take shares of a block, and cut the lines
//! themselves.

use std::io::{self, Read};

use memchr::{memchr, memchr_iter, memrchr};

use super::rows::{About, Ended, Lane, Reading, is_head};
use crate::error::Result;
use crate::parallel;

/// Bytes that are read at a time, for each share.
const BYTES: usize = 1 << 17;

const BYTE_ORDER_MARK: &[u8] = "\u{feff}".as_bytes();

/// Some lines of the file.
#[derive(Default)]
struct Block {
    bytes: Vec<u8>,
    /// How many of them are whole lines; what is behind belongs to the next block.
    whole: usize,
    /// Where they begin in the file.
    at: u64,
    /// Nothing follows.
    is_last: bool,
}

impl Block {
    fn fill(&mut self, from: &mut impl Read, size: usize, before: &Block) -> io::Result<()> {
        self.bytes.clear();
        self.bytes.extend_from_slice(&before.bytes[before.whole..]);
        self.at = before.at + before.whole as u64;
        let read = from.take(size as u64).read_to_end(&mut self.bytes)?;
        self.is_last = read < size;
        self.whole = match self.is_last {
            true => self.bytes.len(),
            false => memrchr(b'\n', &self.bytes).map_or(0, |end| end + 1),
        };
        Ok(())
    }

    /// Its whole lines in this many shares, each with the byte at which it begins.
    fn shares(&self, from: usize, number: usize) -> Vec<(u64, &[u8])> {
        let (mut shares, mut first) = (Vec::new(), from);
        let each = (self.whole - from).div_ceil(number);
        while first < self.whole {
            let least = (first + each).min(self.whole);
            let end = memchr(b'\n', &self.bytes[least..self.whole]);
            let end = end.map_or(self.whole, |end| least + end + 1);
            shares.push((self.at + first as u64, &self.bytes[first..end]));
            first = end;
        }
        shares
    }
}

/// Reads rows while each record is a line of its own, under the first head line. Says from which byte on a reader of any
/// CSV has to go on; `None` at the end of the file.
///
/// # Errors
/// What the system refuses, and what is wrong with a row.
pub(super) fn read(
    file: &mut (impl Read + Send),
    separator: u8,
    reading: &mut Reading,
    refused: impl Fn(io::Error) -> crate::error::Error,
) -> Result<Ended> {
    let size = BYTES * Reading::lanes();
    let (mut now, mut next) = (Block::default(), Block::default());
    now.fill(file, size, &next).map_err(&refused)?;
    let Some(mut from) = head_of(&now, separator, reading)? else {
        return Ok(Some(0));
    };
    loop {
        if now.whole == 0 && !now.is_last {
            // A line longer than a block.
            return Ok(Some(now.at));
        }
        let shares = now.shares(from, Reading::lanes());
        // While these become rows, the next are read.
        let (filled, ended) = parallel::both(
            || next.fill(file, size, &now),
            || {
                reading.take(&shares, |lane, about, (at, share)| {
                    lane.lines(about, separator, *at, share)
                })
            },
        );
        let ended = ended?;
        if ended.is_some() || now.is_last {
            return Ok(ended);
        }
        filled.map_err(&refused)?;
        std::mem::swap(&mut now, &mut next);
        from = 0;
    }
}

/// Takes the head line; gives the place behind it, `None` where it is no line like the others.
fn head_of(block: &Block, separator: u8, reading: &mut Reading) -> Result<Option<usize>> {
    let whole = &block.bytes[..block.whole];
    let mut from = match whole.starts_with(BYTE_ORDER_MARK) {
        true => BYTE_ORDER_MARK.len(),
        false => 0,
    };
    let mut room = super::line::Room::default();
    while from < whole.len() {
        let end = memchr(b'\n', &whole[from..]).map_or(whole.len(), |end| from + end + 1);
        let line = line_of(&whole[from..end]);
        let Ok(text) = std::str::from_utf8(line) else {
            return Ok(None);
        };
        if !text.trim().is_empty() {
            let line = match has_return(line) {
                true => None,
                false => room.of_line(text, separator, from as u64),
            };
            return match line.filter(is_head) {
                Some(line) => reading.begin(&line).map(|()| Some(end)),
                None => Ok(None),
            };
        }
        from = end;
    }
    Ok(None)
}

/// A line without its end, LF or CR LF.
fn line_of(line: &[u8]) -> &[u8] {
    let line = line.strip_suffix(b"\n").unwrap_or(line);
    line.strip_suffix(b"\r").unwrap_or(line)
}

/// A record may end in the middle of such a line.
fn has_return(line: &[u8]) -> bool {
    memchr(b'\r', line).is_some()
}

impl Lane {
    /// Makes rows of lines. It ends before one that is a head, or that is not one record.
    fn lines(&mut self, about: &About, separator: u8, at: u64, share: &[u8]) -> Result<Ended> {
        let Ok(text) = std::str::from_utf8(share) else {
            return Ok(Some(at));
        };
        let mut room = std::mem::take(&mut self.room);
        let ends = memchr_iter(b'\n', share).map(|end| end + 1);
        let unended = (!share.ends_with(b"\n")).then_some(share.len());
        let mut from = 0;
        for end in ends.chain(unended) {
            let line = line_of(&share[from..end]);
            let place = at + from as u64;
            if !line.is_empty() {
                let cut = match has_return(line) {
                    true => None,
                    false => room.of_line(&text[from..from + line.len()], separator, place),
                };
                match cut.filter(|line| !is_head(line)) {
                    Some(line) => self.add(about, &line)?,
                    None => return Ok(Some(place)),
                }
            }
            from = end;
        }
        self.room = room;
        Ok(None)
    }
}
