//! The starts table as Parquet (Apache Parquet format 2): typed columns under the names of the CSV table, one start a row.
//!
//! Counts are 64-bit integers, other measures and instants doubles, `lit` is true or false, `flags` a list of text, all
//! else text: a column has one type in every night's file, whatever that night's sheet holds.

mod caught;
mod read;
mod write;

use std::path::Path;

use crate::error::{Error, ErrorKind, Place};

pub(super) use read::read;
pub(super) use write::file_of;

/// What the format's library found wrong with a file.
fn refused(path: &Path, problem: &::parquet::errors::ParquetError) -> Error {
    let problem = format!("cannot be read as Parquet ({problem})");
    Error::new(ErrorKind::StartsTable, Place::file(path), problem)
        .hint("Measure its recordings again with --parquet, or write it with Snappy, gzip or no compression")
}
