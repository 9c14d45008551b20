//! How starts are gathered.

use std::path::Path;

use crate::measuring::cache::Cache;
use crate::measuring::table::Wanted;

/// How to gather.
#[derive(Default)]
pub struct GatherOptions<'a> {
    /// Keep the traces for figures.
    pub previews: bool,
    /// Job file whose logger, measuring and preps serve recordings named by themselves.
    pub job: Option<&'a Path>,
    /// Prep of recordings named by themselves; of jobs and tables only its starts are taken.
    pub prep: Option<&'a str>,
    /// What was measured before; not asked where pictures are, for it has none.
    pub cache: Option<&'a Cache>,
    /// Date every start: by the sheet, else by its recording, else by the time of the file.
    pub dates: bool,
    /// Look for recordings in the folders of a folder too.
    pub deep: bool,
    /// Leave out recordings that are still being written; they are listed.
    pub sort_out: bool,
    /// Rows only: how each score came about is not kept, and `details` stays empty.
    pub bare: bool,
    /// Measures that are read of tables.
    pub wanted: Wanted<'a>,
    /// Told after each recording: how many are done, of how many.
    pub progress: Option<&'a (dyn Fn(usize, usize) + Sync)>,
}
