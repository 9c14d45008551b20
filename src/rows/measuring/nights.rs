//! A starts table that grows from night to night, so that charts go on from the starts before.

use std::collections::HashSet;
use std::path::Path;

use crate::error::Result;
use crate::measuring::table;
use crate::output;
use crate::score::StartRow;

/// The table as it was before tonight.
#[derive(Debug, Default)]
pub struct Nights {
    rows: Vec<StartRow>,
}

/// What tells one start from all others, whatever its place in a sheet or folder is by now.
type Key<'a> = (&'a str, u32, [Option<u64>; 3]);

fn key(row: &StartRow) -> Key<'_> {
    let instants = &row.instants;
    let times = [instants.t_open_s, instants.t_first_s, instants.t_lit_s];
    (
        &row.recording,
        row.start,
        times.map(|t| t.map(f64::to_bits)),
    )
}

impl Nights {
    /// Reads the table; one that is not there yet is empty.
    ///
    /// # Errors
    /// A file that is no starts table or cannot be read.
    pub fn read(path: &Path) -> Result<Nights> {
        let rows = match path.exists() {
            true => table::read(path)?,
            false => Vec::new(),
        };
        Ok(Nights { rows })
    }

    /// The starts before tonight's: where some of these were added already, those before the first of them, so that
    /// screening a night twice gives the same answer.
    pub fn before(&self, tonight: &[StartRow]) -> &[StartRow] {
        &self.rows[..self.begin(tonight)]
    }

    fn begin(&self, tonight: &[StartRow]) -> usize {
        let known: HashSet<Key> = tonight.iter().map(key).collect();
        let first = self.rows.iter().position(|row| known.contains(&key(row)));
        first.unwrap_or(self.rows.len())
    }

    /// Writes the table with tonight's starts in it, each once. A failure leaves the old table as it was.
    ///
    /// # Errors
    /// What the system refuses.
    pub fn write(&self, path: &Path, tonight: &[StartRow]) -> Result<()> {
        let known: HashSet<Key> = tonight.iter().map(key).collect();
        let (before, after) = self.rows.split_at(self.begin(tonight));
        let after = after.iter().filter(|row| !known.contains(&key(row)));
        let rows: Vec<StartRow> = before.iter().chain(tonight).chain(after).cloned().collect();
        output::whole(path, &table::CSV, |out| table::write_csv(&rows, out))
    }
}
