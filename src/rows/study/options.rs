//! What to compare and how.

use std::collections::{BTreeMap, BTreeSet};

use crate::measure::{Better, Measure};
use crate::score::StartRow;

/// Which starts to compare, by the rest before them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Which {
    /// All.
    All,
    /// Those after a rest of at least this many seconds, or with none known (first of a recording).
    Cold(f64),
    /// Those after a shorter rest.
    Restarts(f64),
}

impl Which {
    pub(super) fn takes(self, row: &StartRow) -> bool {
        let cold = |limit: f64| row.measures.rest_s().is_none_or(|rest| rest >= limit);
        match self {
            Which::All => true,
            Which::Cold(limit) => cold(limit),
            Which::Restarts(limit) => !cold(limit),
        }
    }
}

/// What to compare and how.
#[derive(Debug, Clone, PartialEq)]
pub struct CompareOptions {
    /// Group by this: `prep`, `coupon`, `recording` or a sheet column.
    pub by: String,
    /// Confidence level of the intervals; 1 − level is the chance of a false verdict a measure.
    pub level: f64,
    /// Measures or numeric sheet columns; the first one answers the question.
    pub measures: Vec<String>,
    /// Differences worth having, where the user sets them.
    pub margins: BTreeMap<String, f64>,
    /// Better sides, where the user sets them.
    pub better: BTreeMap<String, Better>,
    /// Which starts.
    pub which: Which,
    /// The starts extend a set that was compared before and was not enough: the answer allows for that look.
    pub extended: bool,
    /// Answer for someone who looks after every start and stops when it is clear.
    pub while_striking: bool,
}

impl Default for CompareOptions {
    fn default() -> Self {
        CompareOptions {
            by: "prep".into(),
            level: 0.95,
            measures: ["score", "start_ms", "wander_v"].map(String::from).into(),
            margins: BTreeMap::new(),
            better: BTreeMap::new(),
            which: Which::All,
            extended: false,
            while_striking: false,
        }
    }
}

impl CompareOptions {
    /// The measures that the answer and its warnings rest on: of a table no others need be read.
    pub fn reads(&self) -> BTreeSet<Measure> {
        let asked = self.measures.iter();
        let asked = asked.flat_map(|name| [name.clone(), format!("u_{name}")]);
        let asked = asked.filter_map(|name| Measure::named(&name));
        asked
            .chain([Measure::RunA, Measure::SinceRegrind, Measure::RestS])
            .collect()
    }
}

/// Chance of seeing a difference that "how many more" plans for.
pub(crate) const POWER: f64 = 0.8;
