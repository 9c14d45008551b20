//! One row of the run sheet: its cells become a run, and what is wrong with them is collected.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};

use crate::error::{Error, ErrorKind, Place};
use crate::job::cells::SheetRow;
use crate::job::length::{Length, number};
use crate::job::nearest::nearest;
use crate::job::run::{COLUMNS, Process, Run, StartMethod};

/// Reads the cells of one row and collects what is wrong with them.
pub(super) struct RowReader<'a> {
    /// The sheet's file.
    pub at: &'a str,
    /// Names of the columns.
    pub header: &'a [String],
    /// The row.
    pub row: &'a SheetRow,
    /// What is wrong so far.
    pub faults: &'a mut Vec<Error>,
}

impl RowReader<'_> {
    /// The row as a run; where a cell is bad, its fault is noted and the field is empty.
    pub fn run(&mut self, number: u32, folder: &Path, preps: &[&str]) -> Run {
        self.cells_beyond_header();
        let file = self.required("file").unwrap_or_default();
        let path = self.path(&file, folder);
        let run = Run {
            number,
            line: self.row.line,
            path,
            by_pattern: false,
            prep: self.prep(preps),
            tip_id: self.text("tip_id"),
            coupon: self.text("coupon"),
            cell: self.text("cell"),
            shift: self.text("shift"),
            date: self.date(),
            starts: self.count(
                "starts",
                0,
                "Give the number of starts that this row covers; 0 where none was struck yet",
            ),
            planned: self.count("planned", 0, "Give the number of starts to strike"),
            skip: 0,
            exclude: self.text("exclude"),
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
            since_regrind: self.count(
                "since_regrind",
                1,
                "Give the number of the run's first start on this tip: 1 when freshly ground",
            ),
            from_s: self.instant("from_s"),
            to_s: self.instant("to_s"),
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
        let place = Place::from(self.at).row(self.row.line).column(column);
        let found = self.text(column).unwrap_or_default();
        self.faults.push(
            Error::new(ErrorKind::SheetCell, place, format!("'{found}' {problem}")).hint(way_out),
        );
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
            let place = Place::from(self.at).row(self.row.line);
            self.faults.push(
                Error::new(
                    ErrorKind::SheetForm,
                    place,
                    format!("{what} stands under no column name"),
                )
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
            self.fault(column, "is not a number", &way_out);
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

    /// A place in the recording: seconds, or `m:ss` and `h:mm:ss` as players show it.
    fn instant(&mut self, column: &str) -> Option<f64> {
        let text = self.text(column)?;
        if !text.contains(':') {
            return self.seconds(column);
        }
        let seconds = clock(&text);
        if seconds.is_none() {
            self.fault(
                column,
                "is no time",
                "Write seconds, or minutes and seconds as 12:05",
            );
        }
        seconds
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

    fn count(&mut self, column: &str, least: u32, way_out: &str) -> Option<u32> {
        let text = self.text(column)?;
        let value =
            number(&text).filter(|n| *n >= f64::from(least) && n.fract() == 0.0 && *n <= 1e6);
        if value.is_none() {
            let problem = match least {
                0 => "is not a whole number from 0",
                _ => "is not a whole number from 1",
            };
            self.fault(column, problem, way_out);
        }
        value.map(|n| n as u32)
    }

    /// A day or a moment; kept as written, so that it groups as the welder meant it.
    fn date(&mut self) -> Option<String> {
        let text = self.text("date")?;
        if !is_date(&text) {
            self.fault(
                "date",
                "is no date",
                "Write year, month and day as 2026-03-09",
            );
            return None;
        }
        Some(text)
    }

    fn length(&mut self, column: &str) -> Option<Length> {
        let text = self.text(column)?;
        match Length::parse(&text) {
            Ok(length) => Some(length),
            Err(problem) => {
                let place = Place::from(self.at).row(self.row.line).column(column);
                self.faults
                    .push(Error::new(ErrorKind::SheetCell, place, problem));
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

/// Whether a text begins with a day as ISO 8601 writes it, and goes on with a time of day or not at all.
fn is_date(text: &str) -> bool {
    let (day, time) = text.split_at_checked(10).unwrap_or((text, ""));
    let mut parts = day.split('-').map(|part| part.parse::<u32>().ok());
    let parts = [parts.next(), parts.next(), parts.next(), parts.next()].map(Option::flatten);
    let dashes = day.as_bytes().get(4) == Some(&b'-') && day.as_bytes().get(7) == Some(&b'-');
    let [Some(_), Some(month), Some(of_month), None] = parts else {
        return false;
    };
    let clock_follows =
        time.is_empty() || time.starts_with(['T', ' ']) && clock(&time[1..]).is_some();
    dashes && (1..=12).contains(&month) && (1..=31).contains(&of_month) && clock_follows
}

/// Seconds of `m:ss`, `m:ss.s` or `h:mm:ss`.
fn clock(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.split(':').collect();
    let (seconds, whole) = parts.split_last()?;
    let seconds = number(seconds).filter(|s| (0.0..60.0).contains(s))?;
    let mut minutes = 0.0;
    for (place, part) in whole.iter().enumerate() {
        let value = f64::from(part.trim().parse::<u16>().ok()?);
        if place > 1 || (place == 1 && value >= 60.0) {
            return None;
        }
        minutes = 60.0 * minutes + value;
    }
    Some(60.0 * minutes + seconds)
}

/// The path of a recording, which may not leave the job's folder: not by `..`, not by an absolute
/// path, not by a link. It need not exist yet: a sheet is written before anything is welded.
pub(super) fn inside(file: &str, folder: &Path) -> Result<PathBuf, &'static str> {
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
