//! The run sheet: one row a run.

use std::collections::{BTreeMap, HashMap};
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::cells::{self, Cells};
use super::job::UNNAMED_PREP;
use super::length::Length;
use super::nearest::slip_of;
use super::sheet_row::RowReader;
use crate::error::{Error, Result};
use crate::start::Measures;

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
    /// Name of the prep.
    pub prep: String,
    /// Coupon.
    pub coupon: Option<String>,
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
pub(super) const COLUMNS: [&str; 22] = [
    "file",
    "prep",
    "coupon",
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

    /// The part of the recording that counts, s.
    pub fn span_s(&self) -> (f64, f64) {
        (
            self.from_s.unwrap_or(f64::NEG_INFINITY),
            self.to_s.unwrap_or(f64::INFINITY),
        )
    }

    /// Columns of the starts table that come from the sheet (the prep and the coupon aside).
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

/// Reads the run sheet of a job.
///
/// # Errors
/// Every bad cell in one pass, each with its row, column, what was found and what is meant.
pub(super) fn read(path: &Path, folder: &Path, preps: &[&str]) -> Result<Vec<Run>> {
    from_cells(
        &cells::read(path)?,
        &path.display().to_string(),
        folder,
        preps,
    )
}

/// The rows of a sheet as runs; `at` names the file.
pub(super) fn from_cells(
    cells: &Cells,
    at: &str,
    folder: &Path,
    preps: &[&str],
) -> Result<Vec<Run>> {
    let mut faults = header_faults(&cells.header, at);
    if !faults.is_empty() {
        return Err(Error::Several(faults));
    }
    let mut runs = Vec::new();
    for (i, row) in cells.rows.iter().enumerate() {
        let mut reader = RowReader {
            at,
            header: &cells.header,
            row,
            faults: &mut faults,
        };
        let run = reader.run(i as u32 + 1, folder, preps);
        runs.push(run);
    }
    faults.extend(overlaps(&runs, at));
    if runs.is_empty() {
        faults.push(Error::input(at, "the sheet has no runs").hint("Write one row a recording"));
    }
    match faults.is_empty() {
        true => Ok(runs),
        false => Err(Error::Several(faults)),
    }
}

fn header_faults(header: &[String], at: &str) -> Vec<Error> {
    let has = |name: &str| header.iter().any(|h| h == name);
    let missing = ["file", "prep"].into_iter().filter(|name| !has(name));
    let mut faults: Vec<Error> = missing
        .map(|name| {
            Error::input(at, format!("there is no column '{name}'"))
                .hint("The first row names the columns; 'file' and 'prep' must be there")
        })
        .collect();
    for name in header {
        let numbered = name.ends_with(|c: char| c.is_ascii_digit());
        if name.is_empty() || COLUMNS.contains(&name.as_str()) {
            continue;
        }
        if is_taken(name) {
            faults.push(
                Error::input(
                    at,
                    format!("column '{name}' has a name of the starts table"),
                )
                .hint(format!("Rename it, to 'my_{name}' say")),
            );
            continue;
        }
        if numbered {
            continue;
        }
        if let Some(like) = slip_of(name, COLUMNS) {
            faults.push(
                Error::input(at, format!("column '{name}' is not known"))
                    .hint(format!("Did you mean '{like}'?")),
            );
        }
    }
    faults
}

/// Names that the starts table gives to what is measured, scored or said of the prep.
fn is_taken(name: &str) -> bool {
    const TAKEN: [&str; 20] = [
        "recording",
        "run",
        "start",
        "lit",
        "t_open_s",
        "t_first_s",
        "t_lit_s",
        "t_settled_s",
        "t_out_s",
        "flags",
        "score",
        "verdict",
        "class",
        "diameter",
        "taper_deg",
        "tip",
        "tip_flat",
        "marks",
        "wheel",
        "set_ac_hz",
    ];
    TAKEN.contains(&name) || Measures::ALL.iter().any(|m| m.name == name)
}

/// Two rows that would count the same starts twice.
fn overlaps(runs: &[Run], at: &str) -> Vec<Error> {
    let mut faults = Vec::new();
    let mut of_file: HashMap<&Path, Vec<&Run>> = HashMap::new();
    for b in runs.iter().filter(|run| !run.file.is_empty()) {
        let before = of_file.entry(&b.path).or_default();
        let twin = before
            .iter()
            .find(|a| a.span_s().0 < b.span_s().1 && b.span_s().0 < a.span_s().1);
        if let Some(a) = twin {
            let problem = format!("'{}' stands in row {} too", b.file, a.line);
            faults.push(
                Error::input(format!("{at}, row {}, column file", b.line), problem).hint(
                    "Its starts would count twice: give each row its part by from_s and to_s",
                ),
            );
        }
        before.push(b);
    }
    faults
}
