//! Sets one start of a run aside after the fact: its row of the sheet is parted around it, and all else stays as it was.

use crate::error::{Error, ErrorKind, Result};
use crate::job::sheet_text::SheetText;

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

/// Sets that start aside: up to three rows stand for its one, for the starts before it, for it, and for those after it.
/// Columns that are missing for that are added at the end.
///
/// # Errors
/// A sheet without such a row or start; `at` is its name.
pub fn set_aside(sheet: &mut SheetText, at: &str, aside: Aside) -> Result<()> {
    let row = (aside.run as usize).wrapping_sub(1);
    if row >= sheet.len() || !(1..=aside.of).contains(&aside.start) {
        return Err(Error::new(
            ErrorKind::NoSuchRow,
            at,
            "there is no such start in the sheet",
        )
        .hint("Measure the job anew: its rows may have changed"));
    }
    sheet.add_column(EXCLUDE);
    sheet.add_column(STARTS);
    let first = sheet.count(row, SINCE);
    let before = aside.start - 1;
    let all = [
        (0, before, None),
        (before, 1, Some(aside.reason)),
        (aside.start, aside.of - aside.start, None),
    ];
    let there = all.into_iter().filter(|(_, count, _)| *count > 0);
    let parts: Vec<_> = there
        .map(|(skip, count, reason)| {
            let since = first.map(|first| (SINCE, (first + skip).to_string()));
            let reason = reason.map(|reason| (EXCLUDE, reason.to_owned()));
            let mut cells = vec![(STARTS, count.to_string())];
            cells.extend(since.into_iter().chain(reason));
            cells
        })
        .collect();
    sheet.part(row, &parts);
    Ok(())
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
        let mut sheet = SheetText::parse(text, "runs.csv").unwrap();
        set_aside(&mut sheet, "runs.csv", aside).unwrap();
        sheet.written()
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
            let mut sheet = SheetText::parse("file,prep\na.wav,A\n", "runs.csv").unwrap();
            let refused = set_aside(&mut sheet, "runs.csv", aside);
            assert_eq!(
                refused.unwrap_err().kind(),
                ErrorKind::NoSuchRow,
                "{run} {start}"
            );
        }
    }
}
