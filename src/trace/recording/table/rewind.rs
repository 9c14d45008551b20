//! A reader that goes back a little: what is unpacked cannot be read from any position, and unpacking anew from the start is slow.

use std::io::{self, Read};

/// Reads on, or what was read last once more.
pub(super) struct Rewind {
    from: Box<dyn Read + Send>,
    /// This much of what was read is held, bytes, and at the most a third more: it is moved to the front now and then only.
    most: usize,
    /// What was read last.
    held: Vec<u8>,
    /// How much of it lies before the position.
    at: usize,
}

impl Rewind {
    pub(super) fn new(from: Box<dyn Read + Send>, most: usize) -> Rewind {
        Rewind {
            from,
            most,
            held: Vec::new(),
            at: 0,
        }
    }

    /// Goes back by this many bytes; `false` where they are not held.
    pub(super) fn back(&mut self, bytes: u64) -> bool {
        let to = usize::try_from(bytes).map_or(None, |bytes| self.at.checked_sub(bytes));
        self.at = to.unwrap_or(self.at);
        to.is_some()
    }
}

impl Read for Rewind {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let again = &self.held[self.at..];
        if !again.is_empty() {
            let count = again.len().min(to.len());
            to[..count].copy_from_slice(&again[..count]);
            self.at += count;
            return Ok(count);
        }
        let count = self.from.read(to)?;
        if self.held.len() >= self.most + self.most / 3 {
            self.held.drain(..self.held.len() - self.most);
        }
        self.held.extend_from_slice(&to[..count]);
        self.at = self.held.len();
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_read_is_read_again_as_far_as_it_is_held() {
        const MOST: usize = 999;
        let all: Vec<u8> = (0..5 * MOST).map(|k| (k % 251) as u8).collect();
        let mut reader = Rewind::new(Box::new(io::Cursor::new(all.clone())), MOST);
        for piece in all[..4 * MOST].chunks(37) {
            let mut read = vec![0; piece.len()];
            reader.read_exact(&mut read).unwrap();
            assert_eq!(read, piece);
        }
        assert!(!reader.back(2 * MOST as u64), "too far");
        assert!(reader.back(MOST as u64));
        let mut rest = Vec::new();
        reader.read_to_end(&mut rest).unwrap();
        assert_eq!(rest, all[3 * MOST..]);
        assert!(!reader.back(u64::MAX));
    }
}
