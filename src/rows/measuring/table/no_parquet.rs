//! Stands in for Parquet in a build without it: says how to get it.

use std::path::Path;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::measuring::table::columns::Wanted;
use crate::score::StartRow;

pub(super) fn read(path: &Path, _: &[(String, String)], _: Wanted) -> Result<Vec<StartRow>> {
    Err(missing(path))
}

pub(super) fn file_of(_: &[&StartRow], folder: &Path) -> Result<Vec<u8>> {
    Err(missing(folder))
}

fn missing(path: &Path) -> Error {
    let problem = "is Parquet, which this build leaves out";
    Error::new(ErrorKind::StartsTable, Place::file(path), problem)
        .hint("Build tipstrike with --features parquet")
}
