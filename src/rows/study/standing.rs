//! Where a session at the bench stands: how much was struck, and whether it is enough.

use std::collections::BTreeMap;

use crate::job::Run;
use crate::score::StartRow;
use crate::study::comparison::{PairVerdict, WhileStriking};
use crate::study::groups::counts;
use crate::study::sequential;

/// Confidence level of a session, that of `compare`.
const LEVEL: f64 = 0.95;

/// How far one prep is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrepStanding {
    /// Name of the prep.
    pub prep: String,
    /// Starts struck that are not set aside.
    pub struck: u32,
    /// These and those still to strike.
    pub of: u32,
}

/// Where a session stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// One entry a prep, by name.
    pub preps: Vec<PrepStanding>,
    /// Starts set aside.
    pub set_aside: usize,
    /// Starts that cannot be trusted, in no answer either.
    pub doubtful: usize,
    /// The sequential comparison of every two preps.
    pub pairs: Vec<WhileStriking>,
}

impl Standing {
    /// Whether every pair is decided: one may stop.
    pub fn is_enough(&self) -> bool {
        let decided = |pair: &WhileStriking| pair.verdict != PairVerdict::NotEnough;
        !self.pairs.is_empty() && self.pairs.iter().all(decided)
    }

    /// Whether all that was planned is struck.
    pub fn is_done(&self) -> bool {
        self.preps.iter().all(|prep| prep.struck >= prep.of)
    }
}

/// Where the starts of a session stand; `left` gives the starts still to strike of each run.
pub fn standing<'a>(rows: &[StartRow], left: impl Iterator<Item = (&'a Run, u32)>) -> Standing {
    let mut preps: BTreeMap<&str, [u32; 2]> = BTreeMap::new();
    for (run, left) in left {
        preps.entry(&run.prep).or_default()[1] += left;
    }
    for row in rows.iter().filter(|row| row.exclude.is_none()) {
        preps.entry(&row.prep).or_default()[0] += 1;
    }
    let counted: Vec<&StartRow> = rows.iter().filter(|row| counts(row)).collect();
    let has_starts = |prep: &&str| counted.iter().any(|row| *row.prep == **prep);
    let ids: Vec<&str> = preps.keys().copied().filter(has_starts).collect();
    let set_aside = rows.iter().filter(|row| row.exclude.is_some()).count();
    Standing {
        set_aside,
        doubtful: rows.len() - counted.len() - set_aside,
        // The family is every pair that is planned, from the first start on.
        pairs: match ids.len() == preps.len() {
            true => sequential::while_striking(&counted, &ids, "prep", LEVEL),
            false => Vec::new(),
        },
        preps: preps
            .into_iter()
            .map(|(prep, [struck, left])| PrepStanding {
                prep: prep.to_owned(),
                struck,
                of: struck + left,
            })
            .collect(),
    }
}
