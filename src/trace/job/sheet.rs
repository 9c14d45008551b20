//! The run sheet: one row a run.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::cells;
use crate::job::cells::Cells;
use crate::job::nearest::slip_of;
use crate::job::prep::PREP_COLUMNS;
use crate::job::run::{COLUMNS, Run};
use crate::job::sheet_row::RowReader;
use crate::measure::Measure;

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
        return Err(Error::several(faults));
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
    share_out(&mut runs);
    if runs.is_empty() {
        faults.push(
            Error::new(ErrorKind::SheetForm, at, "the sheet has no runs")
                .hint("Write one row a recording"),
        );
    }
    match faults.is_empty() {
        true => Ok(runs),
        false => Err(Error::several(faults)),
    }
}

fn header_faults(header: &[String], at: &str) -> Vec<Error> {
    let has = |name: &str| header.iter().any(|h| h == name);
    let missing = ["file", "prep"].into_iter().filter(|name| !has(name));
    let mut faults: Vec<Error> = missing
        .map(|name| {
            Error::new(
                ErrorKind::SheetForm,
                at,
                format!("there is no column '{name}'"),
            )
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
                Error::new(
                    ErrorKind::SheetForm,
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
                Error::new(
                    ErrorKind::SheetForm,
                    at,
                    format!("column '{name}' is not known"),
                )
                .hint(format!("Did you mean '{like}'?")),
            );
        }
    }
    faults
}

/// Names that the starts table gives to what is measured, scored or said of the prep.
fn is_taken(name: &str) -> bool {
    const TAKEN: [&str; 13] = [
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
        "set_ac_hz",
    ];
    TAKEN.contains(&name) || PREP_COLUMNS.contains(&name) || Measure::named(name).is_some()
}

/// Gives each row the starts of its file that come after those of the rows before it.
pub(super) fn share_out(runs: &mut [Run]) {
    let mut taken: HashMap<(PathBuf, [u64; 2]), u32> = HashMap::new();
    for run in runs {
        let (from, to) = run.span_s();
        let part = (run.path.clone(), [from.to_bits(), to.to_bits()]);
        let taken = taken.entry(part).or_default();
        run.skip = *taken;
        *taken = taken.saturating_add(run.starts.unwrap_or(0));
    }
}

/// Rows that would count the same starts twice, each with an earlier row that does.
pub(super) fn overlaps(runs: &[Run], at: &str) -> Vec<Error> {
    let mut of_file: HashMap<&Path, Vec<&Run>> = HashMap::new();
    for run in runs
        .iter()
        .filter(|run| !run.file.is_empty() && !run.is_to_come())
    {
        of_file.entry(&run.path).or_default().push(run);
    }
    let mut faults: Vec<(u64, Error)> = of_file
        .values()
        .flat_map(|rows| twins(rows))
        .map(|(a, b)| (b.line, counted_twice(a, b, at)))
        .collect();
    faults.sort_by_key(|(line, _)| *line);
    faults.into_iter().map(|(_, fault)| fault).collect()
}

/// Rows of one file, in pairs, whose parts overlap. Rows of one part share its starts out by their numbers; all but the last
/// must have theirs.
fn twins<'a>(rows: &[&'a Run]) -> Vec<(&'a Run, &'a Run)> {
    let span = Run::span_s;
    let mut parts = rows.to_vec();
    // The sort is stable: rows of one part stay in the order of the sheet.
    parts.sort_by(|a, b| {
        let ((from_a, to_a), (from_b, to_b)) = (span(a), span(b));
        from_a.total_cmp(&from_b).then(to_a.total_cmp(&to_b))
    });
    let mut twins = Vec::new();
    let (mut farthest, mut without_number): (Option<&Run>, Option<&Run>) = (None, None);
    for (k, run) in parts.iter().copied().enumerate() {
        let same_part = k > 0 && span(parts[k - 1]) == span(run);
        if !same_part {
            without_number = None;
        }
        let over = farthest.filter(|far| span(far) != span(run) && span(run).0 < span(far).1);
        twins.extend(
            without_number
                .or(over)
                .map(|other| match other.line < run.line {
                    true => (other, run),
                    false => (run, other),
                }),
        );
        if run.starts.is_none() {
            without_number = without_number.or(Some(run));
        }
        if farthest.is_none_or(|far| span(far).1 < span(run).1) {
            farthest = Some(run);
        }
    }
    twins
}

fn counted_twice(a: &Run, b: &Run, at: &str) -> Error {
    let problem = match a.file == b.file {
        true => format!("'{}' stands in row {} too", b.file, a.line),
        false => format!(
            "'{}' holds the same recording as '{}' in row {}",
            b.file, a.file, a.line
        ),
    };
    Error::new(ErrorKind::CountedTwice, Place::from(at).row(b.line).column("file"), problem).hint(
        "Its starts would count twice: give each row its number of starts, or its part by from_s and to_s",
    )
}
