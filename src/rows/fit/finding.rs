//! A finding: which prep and rows, and what was found.

use serde::{Serialize, Serializer};

use crate::fit::concern::{Concern, Level};
use crate::fit::edit::Edit;
use crate::fit::remark::Remark;
use crate::fit::seen::Seen;
use crate::fit::words;

/// What was found, before or after the welding.
#[derive(Debug, Clone, PartialEq)]
pub enum Kind {
    /// Found in the sheet; with the ways out, each list to be carried out whole.
    Fit(Concern, Vec<Vec<Edit>>),
    /// Found in the measured starts.
    Seen(Seen),
}

/// Something found of a prep, and the rows of the sheet that it holds for.
#[derive(Debug, Clone, PartialEq)]
pub struct FitFinding {
    /// Name of the prep.
    pub prep: String,
    /// Lines of the run sheet; empty where it holds for the prep whatever is welded.
    pub rows: Vec<u64>,
    /// What was found.
    pub kind: Kind,
}

impl FitFinding {
    /// How much it asks for.
    pub fn level(&self) -> Level {
        match &self.kind {
            Kind::Fit(concern, _) => concern.level(),
            Kind::Seen(seen) => seen.level(),
        }
    }

    /// What it is about, in a word or two.
    pub fn about(&self) -> &'static str {
        match &self.kind {
            Kind::Fit(concern, _) => concern.about(),
            Kind::Seen(seen) => seen.about(),
        }
    }

    /// Its sentences.
    pub fn remark(&self) -> Remark {
        match &self.kind {
            Kind::Fit(concern, ways) => words::of_concern(concern, ways),
            Kind::Seen(seen) => words::of_seen(seen),
        }
    }
}

/// The figures under the name of their kind, and the sentences.
#[derive(Serialize)]
struct Told<'a> {
    prep: &'a str,
    rows: &'a [u64],
    level: Level,
    about: &'static str,
    figures: Figures<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ways: Option<&'a Vec<Vec<Edit>>>,
    #[serde(flatten)]
    remark: Remark,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Figures<'a> {
    Fit(&'a Concern),
    Seen(&'a Seen),
}

impl Serialize for FitFinding {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (figures, ways) = match &self.kind {
            Kind::Fit(concern, ways) => (Figures::Fit(concern), Some(ways)),
            Kind::Seen(seen) => (Figures::Seen(seen), None),
        };
        let told = Told {
            prep: &self.prep,
            rows: &self.rows,
            level: self.level(),
            about: self.about(),
            figures,
            ways,
            remark: self.remark(),
        };
        told.serialize(serializer)
    }
}
