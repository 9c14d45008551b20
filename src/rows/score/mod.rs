//! How good a start was: targets become a score, a word, a row, and what the starts say about the sheet.

mod after;
mod desirability;
mod explain;
mod row;
mod sheets;

pub use after::after;
pub use desirability::{CRISP, ROUGH, desirability, overall, score};
pub use explain::explain;
pub use row::{BALANCE_TOLERANCE_PCT, headings, job_headings, start_row, targets_for};
pub use sheets::Sheets;

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::flag::Flag;
use crate::format::clock;
use crate::measure::{Measure, MeasureValues, Quantity};
use crate::start::Instants;

/// The verdict words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Verdict {
    /// Score 80 or more, one attempt, no dropout.
    #[serde(rename = "crisp")]
    Crisp,
    /// Neither crisp nor rough.
    #[serde(rename = "fair")]
    Fair,
    /// Score under 50, or a dropout, or too many attempts.
    #[serde(rename = "rough")]
    Rough,
    /// No arc held.
    #[serde(rename = "no light")]
    NoLight,
    /// In place of all of these where the reading cannot be trusted.
    #[serde(rename = "doubtful")]
    Doubtful,
}

impl Verdict {
    /// Every verdict, best first; the one that judges nothing last.
    pub const ALL: [Verdict; 5] = [
        Verdict::Crisp,
        Verdict::Fair,
        Verdict::Rough,
        Verdict::NoLight,
        Verdict::Doubtful,
    ];

    /// The word used in every table.
    pub fn word(self) -> &'static str {
        match self {
            Verdict::Crisp => "crisp",
            Verdict::Fair => "fair",
            Verdict::Rough => "rough",
            Verdict::NoLight => "no light",
            Verdict::Doubtful => "doubtful",
        }
    }
}

/// One measure's part in a score.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScorePart {
    /// The measure.
    pub measure: Measure,
    /// Its value; `None` for the start time of a start that did not settle (desirability 0).
    pub value: Option<f64>,
    /// Desirability 1 at or below this.
    pub good: f64,
    /// Desirability 0 at or above this.
    pub poor: f64,
    /// Exponent of the desirability.
    pub shape: f64,
    /// Weight in the geometric mean.
    pub weight: f64,
    /// Desirability, 0 to 1.
    pub desirability: f64,
    /// Points that this measure alone cost: the score with its desirability at 1, less the score.
    pub cost: f64,
    /// Where the target came from, in words.
    pub origin: Arc<str>,
}

/// A start's score with all that went into it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Score {
    /// 0 to 100.
    pub value: f64,
    /// The word.
    pub verdict: Verdict,
    /// One part a measure that could be measured.
    pub parts: Vec<ScorePart>,
    /// Measures with a target that were empty, and dropped out with their weight.
    pub missing: Vec<Measure>,
    /// More attempts than this make a start rough.
    pub rough_attempts: u32,
}

/// One start as a row of the starts table: what every output is made from. Rows with the same texts may share them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct StartRow {
    /// File name of the recording, as in the run sheet.
    pub recording: Arc<str>,
    /// Row of the run sheet, from 1.
    pub run: u32,
    /// Name of the prep.
    pub prep: Arc<str>,
    /// Name of the grinding, where the sheet has one (`A3`).
    pub tip_id: Option<Arc<str>>,
    /// Coupon, where the sheet has one.
    pub coupon: Option<Arc<str>>,
    /// Cell of the plant, where the sheet has one.
    pub cell: Option<Arc<str>>,
    /// Shift, likewise.
    pub shift: Option<Arc<str>>,
    /// Day or moment of the run as ISO 8601 writes it, likewise.
    pub date: Option<Arc<str>>,
    /// Number of the start in its run, from 1.
    pub start: u32,
    /// Why the start is set aside (counted in no answer); `None` where it is not.
    pub exclude: Option<Arc<str>>,
    /// Its instants.
    pub instants: Instants,
    /// Its measures.
    pub measures: MeasureValues,
    /// Its flags, sorted, each once.
    pub flags: Vec<Flag>,
    /// Why the reading cannot be trusted: what was seen.
    pub doubt: Option<Arc<str>>,
    /// 0 to 100.
    pub score: Option<f64>,
    /// The word.
    pub verdict: Option<Verdict>,
    /// The other columns of the run sheet and of the prep (class, marks, operator, …), for grouping and comparing. Rows that
    /// have the same share them: see [`Sheets`].
    pub sheet: Arc<BTreeMap<String, String>>,
}

impl StartRow {
    /// The fixed columns that starts can be grouped by.
    pub const GROUPS: [&str; 7] = [
        "prep",
        "tip_id",
        "coupon",
        "cell",
        "shift",
        "date",
        "recording",
    ];

    /// Whether an arc held.
    pub fn lit(&self) -> bool {
        self.instants.t_lit_s.is_some()
    }

    /// Which start it is, for people: "2 of session.wav (run 7, 1:23.4)", with its row of the run sheet and its time.
    pub fn named(&self) -> String {
        let at = self
            .began_s()
            .map_or(String::new(), |at| format!(", {}", clock(at)));
        format!(
            "{} of {} (run {}{at})",
            self.start, self.recording, self.run
        )
    }

    /// When it began, s from the recording's first sample: its first current, else the circuit opening.
    pub fn began_s(&self) -> Option<f64> {
        self.instants.t_first_s.or(self.instants.t_open_s)
    }

    /// A value to compare by name: a measure, `score`, or a numeric sheet column.
    pub fn value(&self, name: &str) -> Option<f64> {
        self.value_of(&Quantity::named(name))
    }

    /// The value of a quantity.
    pub fn value_of(&self, quantity: &Quantity) -> Option<f64> {
        match quantity {
            Quantity::Score => self.score,
            Quantity::Measure(measure) => self.measures.get(*measure),
            Quantity::Column(heading) => {
                // A cell may say "nan" or "inf": text that reads as a number and is none.
                let number: f64 = self.sheet.get(heading)?.parse().ok()?;
                number.is_finite().then_some(number)
            }
        }
    }

    /// The text to group by: a fixed column that names something ([`StartRow::GROUPS`]), or a sheet column.
    pub fn group(&self, by: &str) -> Option<&str> {
        match by {
            "prep" => Some(&self.prep),
            "tip_id" => self.tip_id.as_deref(),
            "coupon" => self.coupon.as_deref(),
            "cell" => self.cell.as_deref(),
            "shift" => self.shift.as_deref(),
            "date" => self.date.as_deref(),
            "recording" => Some(&self.recording),
            _ => self.sheet.get(by).map(String::as_str),
        }
    }
}
