//! One row of the run sheet: what was run, with which prep, on what.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Serialize;

use crate::job::length::Length;
use crate::job::prep::UNNAMED_PREP;

/// What the machine gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Process {
    /// Direct current, electrode negative.
    #[default]
    Dc,
    /// Direct current, electrode positive.
    Dcep,
    /// Alternating current.
    Ac,
}

impl Process {
    /// The word used in the sheet.
    pub fn name(self) -> &'static str {
        match self {
            Process::Dc => "dc",
            Process::Dcep => "dcep",
            Process::Ac => "ac",
        }
    }

    /// Whether the current changes sign.
    pub fn is_ac(self) -> bool {
        self == Process::Ac
    }
}

/// How the arc is struck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum StartMethod {
    /// High frequency or pulses, without touching.
    Hf,
    /// Touch and lift, with little current while touching.
    Lift,
    /// Scratched like a match, at full current.
    Scratch,
}

impl StartMethod {
    /// The word used in the sheet.
    pub fn name(self) -> &'static str {
        match self {
            StartMethod::Hf => "hf",
            StartMethod::Lift => "lift",
            StartMethod::Scratch => "scratch",
        }
    }
}

/// One row of the run sheet: one recording, or a part of one, made with one prep.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Run {
    /// Row among the runs, from 1.
    pub number: u32,
    /// Line of the sheet, from 1; 0 where there is no sheet.
    pub line: u64,
    /// The recording as the sheet names it.
    pub file: String,
    /// Where the recording lies.
    pub path: PathBuf,
    /// It was found by a pattern of the sheet.
    pub by_pattern: bool,
    /// Name of the prep.
    pub prep: String,
    /// Name of the grinding.
    pub tip_id: Option<String>,
    /// Coupon.
    pub coupon: Option<String>,
    /// Cell of the plant.
    pub cell: Option<String>,
    /// Shift.
    pub shift: Option<String>,
    /// Day or moment, as ISO 8601 writes it.
    pub date: Option<String>,
    /// Starts that this row covers; the rows of one file take its starts in the order struck. `None`: all
    /// that are left; 0: none was struck yet.
    pub starts: Option<u32>,
    /// Starts that a session at the bench is to strike for this row.
    pub planned: Option<u32>,
    /// Starts of the file that belong to the rows before this one.
    pub skip: u32,
    /// Why the starts of this row are set aside.
    pub exclude: Option<String>,
    /// Current set on the machine, A.
    pub set_a: Option<f64>,
    /// Process; DC electrode negative where the sheet has none.
    pub process: Option<Process>,
    /// How the arc is struck.
    pub start_method: Option<StartMethod>,
    /// Electrode-negative share set, percent of the time (AC).
    pub set_en_pct: Option<f64>,
    /// AC frequency set, Hz.
    pub ac_hz: Option<f64>,
    /// Thickness of the work.
    pub thickness: Option<Length>,
    /// Electrode beyond the cup.
    pub stickout: Option<Length>,
    /// Arc gap.
    pub arc_gap: Option<Length>,
    /// Up-slope set, s.
    pub upslope_s: Option<f64>,
    /// Number of this run's first start on this tip since it was ground (1: freshly ground).
    pub since_regrind: Option<u32>,
    /// Only from here on, s from the recording's first sample.
    pub from_s: Option<f64>,
    /// Only up to here, s.
    pub to_s: Option<f64>,
    /// State of the tip after the run, in the welder's words.
    pub tip_after: Option<String>,
    /// Text columns (gas, flow, cup, material, operator, note) and every column that is not ours.
    pub other: BTreeMap<String, String>,
}

/// Every column that has a meaning.
pub(super) const COLUMNS: [&str; 29] = [
    "file",
    "prep",
    "tip_id",
    "coupon",
    "cell",
    "shift",
    "date",
    "starts",
    "planned",
    "exclude",
    "set_a",
    "process",
    "start_method",
    "set_en_pct",
    "ac_hz",
    "gas",
    "flow",
    "cup",
    "material",
    "thickness",
    "stickout",
    "arc_gap",
    "upslope_s",
    "since_regrind",
    "from_s",
    "to_s",
    "operator",
    "tip_after",
    "note",
];

impl Run {
    /// A run without a sheet: a recording named on the command line, with the unnamed prep `-`.
    pub fn bare(number: u32, path: &Path) -> Run {
        let name = path.file_name().unwrap_or(path.as_os_str());
        Run {
            number,
            file: name.to_string_lossy().into_owned(),
            path: path.to_path_buf(),
            prep: UNNAMED_PREP.to_owned(),
            ..Run::default()
        }
    }

    /// The starts of the recording's part that are this row's.
    pub fn takes(&self) -> std::ops::Range<usize> {
        let first = self.skip as usize;
        first..self.starts.map_or(usize::MAX, |n| first + n as usize)
    }

    /// Whether this row only says what to strike: nothing was struck yet.
    pub fn is_to_come(&self) -> bool {
        self.starts == Some(0)
    }

    /// The part of the recording that counts, s.
    pub fn span_s(&self) -> (f64, f64) {
        (
            self.from_s.unwrap_or(f64::NEG_INFINITY),
            self.to_s.unwrap_or(f64::INFINITY),
        )
    }

    /// Columns of the starts table that come from the sheet (those with a column of their own aside).
    pub fn columns(&self) -> BTreeMap<String, String> {
        let of_length = |length: Option<Length>| length.map(|l| l.to_string());
        let of_number = |number: Option<f64>| number.map(|n| n.to_string());
        let typed = [
            ("set_a", of_number(self.set_a)),
            ("process", self.process.map(|p| p.name().to_owned())),
            (
                "start_method",
                self.start_method.map(|m| m.name().to_owned()),
            ),
            ("set_en_pct", of_number(self.set_en_pct)),
            ("set_ac_hz", of_number(self.ac_hz)),
            ("thickness", of_length(self.thickness)),
            ("stickout", of_length(self.stickout)),
            ("arc_gap", of_length(self.arc_gap)),
            ("upslope_s", of_number(self.upslope_s)),
            ("tip_after", self.tip_after.clone()),
        ];
        let mut columns = self.other.clone();
        columns.extend(
            typed
                .into_iter()
                .filter_map(|(name, value)| Some((name.to_owned(), value?))),
        );
        columns
    }
}
