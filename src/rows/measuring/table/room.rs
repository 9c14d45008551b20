//! Bounds of what a table may take: a row's length, and the memory that there is.

use std::io::{self, Read};
use std::path::Path;

use crate::error::{Error, Result};
use crate::score::StartRow;

/// A row of a table is not longer, bytes.
pub(super) const LONGEST_ROW: usize = 1 << 24;

/// Adds a row, if there is memory for it.
///
/// # Errors
/// There is none.
pub(super) fn add(rows: &mut Vec<StartRow>, row: StartRow, path: &Path) -> Result<()> {
    let room = rows.try_reserve(1);
    room.map_err(|_| Error::memory(path.display().to_string()))?;
    rows.push(row);
    Ok(())
}

/// Adds rows and leaves the others empty, if there is memory for them.
///
/// # Errors
/// There is none.
pub(super) fn append(
    rows: &mut Vec<StartRow>,
    more: &mut Vec<StartRow>,
    path: &Path,
) -> Result<()> {
    let room = rows.try_reserve(more.len());
    room.map_err(|_| Error::memory(path.display().to_string()))?;
    rows.append(more);
    Ok(())
}

/// Passes a text on as long as its lines end: a gigabyte without a line end is no table, and is not held in memory.
#[derive(Debug)]
pub(super) struct Lines<R> {
    from: R,
    /// Bytes since the last line end.
    open: usize,
}

impl<R> Lines<R> {
    pub(super) fn new(from: R) -> Lines<R> {
        Lines { from, open: 0 }
    }
}

impl<R: Read> Read for Lines<R> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let read = self.from.read(to)?;
        self.open = match memchr::memrchr(b'\n', &to[..read]) {
            Some(end) => read - end,
            None => self.open + read,
        };
        match self.open > LONGEST_ROW {
            true => Err(io::ErrorKind::InvalidData.into()),
            false => Ok(read),
        }
    }
}
