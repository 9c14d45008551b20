//! The columns of run sheets, each set of them held once however many starts have it.

use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

use crate::score::StartRow;

/// The sets of columns met so far. Twenty thousand starts of a run share one; without that they take more memory than all
/// that was measured.
#[derive(Debug, Default)]
pub struct Sheets(HashSet<Arc<BTreeMap<String, String>>>);

impl Sheets {
    /// Gives the row the columns of an earlier one that has the same.
    pub fn share(&mut self, row: &mut StartRow) {
        match self.0.get(&row.sheet) {
            Some(known) => row.sheet = known.clone(),
            None => drop(self.0.insert(row.sheet.clone())),
        }
    }
}
