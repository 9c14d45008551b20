//! Reads the rows of a table again, by number.

use crate::error::Result;
use crate::recording::table::build::RowCell;
use crate::recording::table::rows::{Reading, Rows, SLOTS, TIME};
use crate::recording::table::stream::Stream;
use crate::recording::table::timing::Timing;

/// Bytes of text per read after the survey.
const REREAD: usize = 1 << 16;

/// Reads rows again, by number.
pub(super) struct Cursor {
    stream: Stream,
    pub(super) reading: Reading,
    held: Rows,
    /// Number of the first row in the chunk.
    first: u64,
}

impl Cursor {
    pub(super) fn new(stream: Stream, reading: Reading) -> Cursor {
        Cursor {
            stream,
            reading,
            held: Rows::default(),
            first: 0,
        }
    }

    /// Loads the chunk that holds a row; returns the number of its first row.
    pub(super) fn holding(&mut self, row: u64, cells: &[RowCell]) -> Result<(&Rows, u64)> {
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
    pub(super) fn row(
        &mut self,
        row: u64,
        cells: &[RowCell],
        timing: Timing,
    ) -> Result<[f64; SLOTS]> {
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
