//! Sets one start of a run aside after the fact: its row of the sheet is parted around it, and all else stays as it was.

use crate::error::{Error, ErrorKind, Result};
use crate::job::cells;

/// Column of the reason.
const EXCLUDE: &str = "exclude";
/// Column of how many starts a row covers.
const STARTS: &str = "starts";
/// Column of how many starts the tip had when the row began.
const SINCE: &str = "since_regrind";

/// A row with one start to set aside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Aside<'a> {
    /// Row among the runs, from 1.
    pub run: u32,
    /// Start among those of the row, from 1.
    pub start: u32,
    /// Starts that the row has.
    pub of: u32,
    /// Why it is set aside.
    pub reason: &'a str,
}

/// The text of the sheet with that start set aside: up to three rows stand for the one, for the starts before it, for it, and
/// for those after it. Columns that are missing for that are added at the end.
///
/// # Errors
/// A sheet that cannot be read, or one without such a row or start.
pub fn set_aside(text: &str, at: &str, aside: Aside) -> Result<String> {
    let delimiter = cells::delimiter(text);
    let mut records = records(text, at, delimiter)?;
    let head = records.iter().position(|r| cells::is_row(r)).unwrap_or(0);
    let columns = [EXCLUDE, STARTS].map(|name| column(&mut records[head], name));
    let width = records[head].len();
    let since = find(&records[head], SINCE);
    let rows = (head + 1..records.len()).filter(|k| cells::is_row(&records[*k]));
    let nth = aside.run.checked_sub(1);
    let place = nth.and_then(|nth| rows.clone().nth(nth as usize));
    let Some(place) = place.filter(|_| (1..=aside.of).contains(&aside.start)) else {
        return Err(Error::new(
            ErrorKind::NoSuchRow,
            at,
            "there is no such start in the sheet",
        )
        .hint("Measure the job anew: its rows may have changed"));
    };
    let rows: Vec<usize> = rows.collect();
    for k in rows {
        let cells = width.max(records[k].len());
        records[k].resize(cells, String::new());
    }
    let parts = parts(&records[place], columns, since, aside);
    records.splice(place..=place, parts);
    Ok(written(&records, delimiter, text.contains("\r\n")))
}

/// The rows that stand for one.
fn parts(
    row: &[String],
    [exclude, starts]: [usize; 2],
    since: Option<usize>,
    aside: Aside,
) -> Vec<Vec<String>> {
    let first: Option<u32> = since.and_then(|k| row[k].trim().parse().ok());
    let part = |skip: u32, count: u32, reason: Option<&str>| {
        let mut part = row.to_vec();
        part[starts] = count.to_string();
        if let Some(reason) = reason {
            part[exclude] = reason.to_owned();
        }
        if let (Some(k), Some(first)) = (since, first) {
            part[k] = (first + skip).to_string();
        }
        part
    };
    let before = aside.start - 1;
    let after = aside.of - aside.start;
    let all = [
        (0, before, None),
        (before, 1, Some(aside.reason)),
        (aside.start, after, None),
    ];
    let there = all.into_iter().filter(|(_, count, _)| *count > 0);
    there
        .map(|(skip, count, reason)| part(skip, count, reason))
        .collect()
}

fn records(text: &str, at: &str, delimiter: u8) -> Result<Vec<Vec<String>>> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .from_reader(text.as_bytes());
    let records = reader.records().map(|record| {
        let record = record.map_err(|e| Error::new(ErrorKind::SheetForm, at, e.to_string()))?;
        Ok(record.iter().map(str::to_owned).collect())
    });
    records.collect()
}

fn find(header: &[String], name: &str) -> Option<usize> {
    header
        .iter()
        .position(|cell| cells::column(cell.trim()) == name)
}

/// Where a column stands; it is added where it is missing.
fn column(header: &mut Vec<String>, name: &str) -> usize {
    find(header, name).unwrap_or_else(|| {
        header.push(name.to_owned());
        header.len() - 1
    })
}

fn written(records: &[Vec<String>], delimiter: u8, crlf: bool) -> String {
    let end = match crlf {
        true => csv::Terminator::CRLF,
        false => csv::Terminator::Any(b'\n'),
    };
    let mut writer = csv::WriterBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .terminator(end)
        .from_writer(Vec::new());
    let never = "writing to memory does not fail";
    for record in records {
        writer.write_record(record).expect(never);
    }
    let bytes = writer.into_inner().expect(never);
    String::from_utf8(bytes).expect("the text was text")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn aside(text: &str, run: u32, start: u32, of: u32) -> String {
        let aside = Aside {
            run,
            start,
            of,
            reason: "fumbled",
        };
        set_aside(text, "runs.csv", aside).unwrap()
    }

    #[test]
    fn a_start_in_the_middle_parts_its_row_in_three() {
        let sheet = "file,prep,starts,exclude,since_regrind,note\na.wav,A,,,5,\"one, two\"\n\nb.wav,B,,,1,\n";
        assert_eq!(
            aside(sheet, 1, 2, 4),
            "file,prep,starts,exclude,since_regrind,note\n\
             a.wav,A,1,,5,\"one, two\"\na.wav,A,1,fumbled,6,\"one, two\"\na.wav,A,2,,7,\"one, two\"\nb.wav,B,,,1,\n"
        );
    }

    #[test]
    fn columns_are_added_and_the_style_of_the_sheet_stays() {
        assert_eq!(
            aside("File;Prep\r\na.wav;A\r\nb.wav;B\r\n", 2, 1, 1),
            "File;Prep;exclude;starts\r\na.wav;A;;\r\nb.wav;B;fumbled;1\r\n"
        );
    }

    #[test]
    fn a_row_that_is_not_there_is_refused() {
        for (run, start, of) in [(3, 1, 1), (0, 1, 1), (1, 5, 4), (1, 0, 4)] {
            let aside = Aside {
                run,
                start,
                of,
                reason: "fumbled",
            };
            let refused = set_aside("file,prep\na.wav,A\n", "runs.csv", aside);
            assert_eq!(
                refused.unwrap_err().kind(),
                ErrorKind::NoSuchRow,
                "{run} {start}"
            );
        }
    }
}
