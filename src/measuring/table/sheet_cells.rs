//! The columns of the run sheet in a table: rows with the same cells share them, which are made once.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// The sets of cells met so far under some headings. Twenty thousand starts of a run have the same.
#[derive(Debug, Default)]
pub(super) struct SheetCells {
    headings: Vec<String>,
    known: HashMap<Vec<u8>, Arc<BTreeMap<String, String>>>,
    /// Each cell of the row at hand behind its length.
    cells: Vec<u8>,
}

impl SheetCells {
    pub(super) fn new(headings: Vec<String>) -> SheetCells {
        SheetCells {
            headings,
            ..SheetCells::default()
        }
    }

    /// The columns of a row with these cells, in the order of the headings; `plain` makes a cell what it was in the sheet.
    pub(super) fn shared<'a>(
        &mut self,
        cells: impl Iterator<Item = &'a str> + Clone,
        plain: impl Fn(&str) -> String,
    ) -> Arc<BTreeMap<String, String>> {
        self.cells.clear();
        for cell in cells.clone() {
            self.cells.extend(cell.len().to_le_bytes());
            self.cells.extend(cell.as_bytes());
        }
        if let Some(known) = self.known.get(&self.cells) {
            return known.clone();
        }
        let given = self
            .headings
            .iter()
            .zip(cells)
            .filter(|(_, cell)| !cell.is_empty());
        let sheet: BTreeMap<String, String> = given
            .map(|(heading, cell)| (heading.clone(), plain(cell)))
            .collect();
        let sheet = Arc::new(sheet);
        self.known.insert(self.cells.clone(), sheet.clone());
        sheet
    }
}
