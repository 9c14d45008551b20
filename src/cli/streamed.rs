//! The starts table on stdout: rows go out in their order while the next recordings are measured.

use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};

use crate::cli::progress;
use crate::error::{Error, Result};
use crate::measuring::gather::{GatherOptions, StartSet};
use crate::measuring::table::{CsvTable, write_jsonl};
use crate::score::StartRow;

/// What the table is written as.
#[derive(Debug, Clone, Copy)]
pub enum Form {
    Csv,
    JsonLines,
}

/// Gathers starts and writes them; what is given back has no rows.
///
/// # Errors
/// Errors of gathering, and what writing gives.
pub fn gather(
    inputs: &[PathBuf],
    options: &GatherOptions<'_>,
    form: Form,
    quiet: bool,
) -> Result<StartSet> {
    let mut csv: Option<CsvTable<_>> = None;
    let mut write = |headings: &BTreeSet<String>, rows: &[StartRow]| match form {
        Form::JsonLines => write_jsonl(rows, io::BufWriter::new(io::stdout().lock())),
        Form::Csv => match &mut csv {
            Some(csv) => csv.add(rows),
            None => {
                let begun = CsvTable::begin(headings.clone(), io::stdout())?;
                csv.insert(begun).add(rows)
            }
        },
    };
    let mut take = |headings: &BTreeSet<String>, rows: &[StartRow]| {
        write(headings, rows).map_err(|e| Error::io(Path::new("stdout"), "write", e))
    };
    progress::gather_for(inputs, options, quiet, Some(&mut take))
}
