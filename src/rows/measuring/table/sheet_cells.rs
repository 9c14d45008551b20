//! The columns of the run sheet in a table: rows with the same cells share them, which are made once.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// The columns of the run sheet in one row.
type Sheet = Arc<BTreeMap<String, String>>;

/// The sets of cells met so far under some headings. Twenty thousand starts of a run have the same.
#[derive(Debug, Default)]
pub(super) struct SheetCells {
    headings: Vec<String>,
    known: HashMap<Vec<u8>, Sheet>,
    /// Each cell of the row at hand behind its length.
    cells: Vec<u8>,
    /// The cells of the row before and what they made: rows of a run follow each other.
    last: Option<(Vec<String>, Sheet)>,
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
    ) -> Sheet {
        // Most cells are empty, and comparing nothing with nothing byte by byte is slow.
        let alike = |(a, b): (&String, &str)| a.len() == b.len() && (b.is_empty() || a == b);
        let same = |last: &&(Vec<String>, _)| last.0.iter().zip(cells.clone()).all(alike);
        if let Some((_, sheet)) = self.last.as_ref().filter(same) {
            return sheet.clone();
        }
        let sheet = self.of_cells(cells.clone(), plain);
        let cells = cells.map(str::to_owned).collect();
        self.last = Some((cells, sheet.clone()));
        sheet
    }

    fn of_cells<'a>(
        &mut self,
        cells: impl Iterator<Item = &'a str> + Clone,
        plain: impl Fn(&str) -> String,
    ) -> Sheet {
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
