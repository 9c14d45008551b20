//! The run sheet: one row a run.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

use serde::Serialize;

use super::cells::{self, Cells, Row};
use super::job::UNNAMED_PREP;
use super::length::{Length, number};
use super::nearest::{nearest, slip_of};
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

const COLUMNS: [&str; 22] = [
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
    for (i, b) in runs.iter().enumerate() {
        let twin = runs[..i].iter().find(|a| {
            !a.file.is_empty()
                && a.path == b.path
                && a.span_s().0 < b.span_s().1
                && b.span_s().0 < a.span_s().1
        });
        if let Some(a) = twin {
            let problem = format!("'{}' stands in row {} too", b.file, a.line);
            faults.push(
                Error::input(format!("{at}, row {}, column file", b.line), problem).hint(
                    "Its starts would count twice: give each row its part by from_s and to_s",
                ),
            );
        }
    }
    faults
}

/// Reads the cells of one row and collects what is wrong with them.
struct RowReader<'a> {
    at: &'a str,
    header: &'a [String],
    row: &'a Row,
    faults: &'a mut Vec<Error>,
}

impl RowReader<'_> {
    fn run(&mut self, number: u32, folder: &Path, preps: &[&str]) -> Run {
        self.cells_beyond_header();
        let file = self.required("file").unwrap_or_default();
        let path = self.path(&file, folder);
        let run = Run {
            number,
            line: self.row.line,
            path,
            prep: self.prep(preps),
            coupon: self.text("coupon"),
            set_a: self.positive("set_a", "the amps set"),
            process: self.word(
                "process",
                &[
                    ("dc", Process::Dc),
                    ("dcen", Process::Dc),
                    ("dcep", Process::Dcep),
                    ("ac", Process::Ac),
                ],
            ),
            start_method: self.word(
                "start_method",
                &[
                    ("hf", StartMethod::Hf),
                    ("lift", StartMethod::Lift),
                    ("scratch", StartMethod::Scratch),
                ],
            ),
            set_en_pct: self.en_share(),
            ac_hz: self.positive("ac_hz", "a frequency in Hz"),
            thickness: self.length("thickness"),
            stickout: self.length("stickout"),
            arc_gap: self.length("arc_gap"),
            upslope_s: self.seconds("upslope_s"),
            since_regrind: self.since_regrind(),
            from_s: self.seconds("from_s"),
            to_s: self.seconds("to_s"),
            tip_after: self.text("tip_after"),
            other: self.other(),
            file,
        };
        if run.span_s().0 >= run.span_s().1 {
            self.fault("to_s", "is not later than from_s", "Swap or correct them");
        }
        run
    }

    fn fault(&mut self, column: &str, problem: &str, way_out: &str) {
        let place = format!("{}, row {}, column {column}", self.at, self.row.line);
        let found = self.text(column).unwrap_or_default();
        self.faults
            .push(Error::input(place, format!("'{found}' {problem}")).hint(way_out));
    }

    fn text(&self, column: &str) -> Option<String> {
        let at = self.header.iter().position(|name| name == column)?;
        let cell = &self.row.cells[at];
        (!cell.is_empty()).then(|| cell.clone())
    }

    fn required(&mut self, column: &str) -> Option<String> {
        let text = self.text(column);
        if text.is_none() {
            self.fault(column, "is empty", "Every run needs one");
        }
        text
    }

    fn cells_beyond_header(&mut self) {
        let named = |i: usize| self.header.get(i).is_some_and(|name| !name.is_empty());
        let stray = self.row.cells.iter().enumerate();
        let stray: Vec<String> = stray
            .filter(|(i, cell)| !cell.is_empty() && !named(*i))
            .map(|(i, cell)| format!("'{cell}' in column number {}", i + 1))
            .collect();
        for what in stray {
            let place = format!("{}, row {}", self.at, self.row.line);
            self.faults.push(
                Error::input(place, format!("{what} stands under no column name"))
                    .hint("Name the column in the first row, or put a cell with a comma in quotes"),
            );
        }
    }

    fn prep(&mut self, preps: &[&str]) -> String {
        let Some(prep) = self.required("prep") else {
            return String::new();
        };
        if !preps.contains(&prep.as_str()) {
            let way_out = match nearest(&prep, preps.iter().copied()) {
                Some(like) => format!("Did you mean '{like}'?"),
                None if preps.is_empty() => "The job file has no [prep.NAME] yet".to_owned(),
                None => format!("The job file has {}", preps.join(", ")),
            };
            self.fault("prep", "is no prep of the job file", &way_out);
        }
        prep
    }

    fn path(&mut self, file: &str, folder: &Path) -> PathBuf {
        match inside(file, folder) {
            Ok(path) => path,
            Err(problem) => {
                self.fault(
                    "file",
                    problem,
                    "Paths are relative to the job file and stay in its folder",
                );
                PathBuf::new()
            }
        }
    }

    fn number(&mut self, column: &str, meant: &str) -> Option<f64> {
        let text = self.text(column)?;
        let value = number(&text);
        if value.is_none() {
            let way_out = format!("Write {meant} as a bare number");
            self.fault(column, "is no number", &way_out);
        }
        value
    }

    fn positive(&mut self, column: &str, meant: &str) -> Option<f64> {
        let value = self.number(column, meant)?;
        if value <= 0.0 {
            self.fault(column, "is not over 0", &format!("Meant is {meant}"));
            return None;
        }
        Some(value)
    }

    fn seconds(&mut self, column: &str) -> Option<f64> {
        let value = self.number(column, "seconds")?;
        if value < 0.0 {
            self.fault(column, "is under 0", "Meant are seconds");
            return None;
        }
        Some(value)
    }

    fn en_share(&mut self) -> Option<f64> {
        let value = self.number("set_en_pct", "the electrode-negative share in percent")?;
        if !(1.0..=99.0).contains(&value) {
            self.fault(
                "set_en_pct",
                "is no share between 1 and 99 percent",
                "Meant is the electrode-negative share of the time; where the machine shows the cleaning side, write 100 less that",
            );
            return None;
        }
        Some(value)
    }

    fn since_regrind(&mut self) -> Option<u32> {
        let value = self.number("since_regrind", "the number of the run's first start")?;
        if value < 1.0 || value.fract() != 0.0 || value > 1e6 {
            self.fault(
                "since_regrind",
                "is no whole number from 1",
                "Meant is the number of the run's first start on this tip: 1 when freshly ground",
            );
            return None;
        }
        Some(value as u32)
    }

    fn length(&mut self, column: &str) -> Option<Length> {
        let text = self.text(column)?;
        match Length::parse(&text) {
            Ok(length) => Some(length),
            Err(problem) => {
                let place = format!("{}, row {}, column {column}", self.at, self.row.line);
                self.faults.push(Error::input(place, problem));
                None
            }
        }
    }

    fn word<T: Copy>(&mut self, column: &str, words: &[(&str, T)]) -> Option<T> {
        let text = self.text(column)?.to_lowercase();
        let found = words.iter().find(|(word, _)| *word == text);
        if found.is_none() {
            let names: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            let way_out = format!("Meant is one of {}", names.join(", "));
            self.fault(column, "is not known here", &way_out);
        }
        found.map(|(_, value)| *value)
    }

    /// Text columns and unknown ones; a number with a decimal comma is kept with a point.
    fn other(&self) -> BTreeMap<String, String> {
        const TEXTS: [&str; 6] = ["gas", "flow", "cup", "material", "operator", "note"];
        let ours = |name: &str| COLUMNS.contains(&name) && !TEXTS.contains(&name);
        self.header
            .iter()
            .zip(&self.row.cells)
            .filter(|(name, cell)| !name.is_empty() && !cell.is_empty() && !ours(name))
            .map(|(name, cell)| {
                let known_text = TEXTS.contains(&name.as_str());
                let value = match number(cell).filter(|_| !known_text) {
                    Some(_) => cell.replace(',', "."),
                    None => cell.clone(),
                };
                (name.clone(), value)
            })
            .collect()
    }
}

/// The path of a recording, which may not leave the job's folder: not by `..`, not by an absolute
/// path, not by a link. It need not exist yet: a sheet is written before anything is welded.
fn inside(file: &str, folder: &Path) -> Result<PathBuf, &'static str> {
    // A sheet made on one system is read on another.
    let file = file.replace('\\', "/");
    let relative = Path::new(&file);
    let drive = file.as_bytes().get(1) == Some(&b':');
    if drive || relative.is_absolute() {
        return Err("is an absolute path");
    }
    if relative.components().any(|c| c == Component::ParentDir) {
        return Err("leaves the folder of the job file");
    }
    let path = folder.join(relative);
    let existing = path.ancestors().find(|p| p.exists());
    let home = folder.canonicalize();
    if let (Some(Ok(real)), Ok(home)) = (existing.map(Path::canonicalize), home)
        && !real.starts_with(home)
    {
        return Err("is a link that leaves the folder of the job file");
    }
    Ok(path)
}
