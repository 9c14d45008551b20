//! The run sheet of a session at the bench: each start that is heard goes to the row that it was struck for.
//!
//! `planned` says how many starts a row is to get, `starts` how many it has. A row is parted where a start of it is set aside, where
//! its tip was ground anew, and where another recording begins; the last part keeps what is still to be struck.

use crate::job::SheetText;

/// Reason of a start that the welder marked.
pub const FUMBLED: &str = "fumbled";
/// Reason of a start that no row asked for.
pub const BEYOND: &str = "beyond the plan";

const FILE: &str = "file";
const STARTS: &str = "starts";
const PLANNED: &str = "planned";
const EXCLUDE: &str = "exclude";
const TIP: &str = "tip_id";
const SINCE: &str = "since_regrind";
const FROM: &str = "from_s";
const TO: &str = "to_s";

/// A run sheet that is being filled from one recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Filling {
    sheet: SheetText,
    recording: String,
    /// Where the last start's part of the recording begins, s; `None`: with the recording.
    last_from_s: Option<f64>,
}

impl Filling {
    /// Begins to fill a sheet from a recording. Rows whose own recording is not there yet are the plan.
    ///
    /// # Errors
    /// The row (from 0) of a plan that does not say how many starts to strike.
    pub fn begin(
        mut sheet: SheetText,
        recording: &str,
        is_there: impl Fn(&str) -> bool,
    ) -> Result<Filling, usize> {
        for column in [PLANNED, FROM, TO] {
            sheet.add_column(column);
        }
        for row in 0..sheet.len() {
            let file = sheet.cell(row, FILE);
            let is_plan = file == recording || !is_there(file);
            if !sheet.cell(row, PLANNED).is_empty() || !is_plan {
                continue;
            }
            let planned = sheet.cell(row, STARTS).to_owned();
            if planned.is_empty() {
                return Err(row);
            }
            for (column, value) in [
                (PLANNED, planned.as_str()),
                (STARTS, "0"),
                (FROM, ""),
                (TO, ""),
            ] {
                sheet.set(row, column, value);
            }
        }
        Ok(Filling {
            sheet,
            recording: recording.to_owned(),
            last_from_s: None,
        })
    }

    /// The sheet as it stands.
    pub fn sheet(&self) -> &SheetText {
        &self.sheet
    }

    /// The row that the next start is for; `None` where all is struck.
    pub fn to_strike(&self) -> Option<usize> {
        (0..self.sheet.len()).find(|row| self.left(*row) > 0)
    }

    /// How many starts a row still is to get.
    pub fn left(&self, row: usize) -> u32 {
        if self.sheet.cell(row, EXCLUDE).is_empty() {
            self.planned(row).saturating_sub(self.starts(row))
        } else {
            0
        }
    }

    /// The starts that count of a row and of the parts before it on the same tip and coupon.
    pub fn struck(&self, row: usize) -> u32 {
        const SAME: [&str; 3] = ["prep", TIP, "coupon"];
        let is_part = |other: &usize| {
            SAME.iter()
                .all(|column| self.sheet.cell(*other, column) == self.sheet.cell(row, column))
        };
        let parts = (0..=row).rev().take_while(is_part);
        let counting = parts.filter(|part| self.sheet.cell(*part, EXCLUDE).is_empty());
        counting.map(|part| self.starts(part)).sum()
    }

    /// Notes where the part of a start that the sheet has already begins.
    pub fn knows(&mut self, from_s: Option<f64>) {
        self.last_from_s = from_s;
    }

    /// A start was heard, in the part of the recording that begins there.
    pub fn heard(&mut self, from_s: Option<f64>) {
        let row = self.to_strike().unwrap_or_else(|| self.add_beyond());
        let other_recording = self.sheet.cell(row, FILE) != self.recording;
        let row = match (self.starts(row), other_recording) {
            (0, _) => row,
            (_, true) => self.close(row),
            (_, false) => {
                let starts = self.starts(row) + 1;
                self.sheet.set(row, STARTS, starts.to_string());
                self.last_from_s = from_s;
                return;
            }
        };
        let from = from_s.map_or(String::new(), |s| format!("{s:.3}"));
        if let Some(before) = self.newest() {
            self.sheet.set(before, TO, from.as_str());
        }
        let recording = self.recording.clone();
        for (column, value) in [
            (FILE, recording.as_str()),
            (STARTS, "1"),
            (FROM, &from),
            (TO, ""),
        ] {
            self.sheet.set(row, column, value);
        }
        self.last_from_s = from_s;
    }

    /// Sets the last start aside; it is to be struck again. `false` where there is none, or where it is set aside already.
    pub fn fumbled(&mut self) -> bool {
        let Some(row) = self.newest() else {
            return false;
        };
        if !self.sheet.cell(row, EXCLUDE).is_empty() {
            return false;
        }
        let (starts, left) = (self.starts(row), self.left(row));
        let from = self
            .last_from_s
            .map_or(String::new(), |s| format!("{s:.3}"));
        let part = |starts: u32, planned: u32, since: u32| {
            let mut cells = vec![(STARTS, starts.to_string()), (PLANNED, planned.to_string())];
            let first = self.sheet.count(row, SINCE);
            cells.extend(first.map(|first| (SINCE, (first + since).to_string())));
            cells
        };
        let mut before = part(starts - 1, starts - 1, 0);
        before.push((TO, from.clone()));
        let mut fumbled = part(1, 0, starts - 1);
        fumbled.extend([(EXCLUDE, FUMBLED.to_owned()), (FROM, from)]);
        let mut again = part(0, left + 1, starts);
        again.extend([(FROM, String::new()), (TO, String::new())]);
        let parts = match starts {
            1 => vec![fumbled, again],
            _ => vec![before, fumbled, again],
        };
        self.sheet.part(row, &parts);
        true
    }

    /// The tip was ground anew before the next start: returns the new grinding's name; `None` where it is fresh anyway, or where
    /// nothing is left to strike.
    pub fn reground(&mut self) -> Option<String> {
        let row = self.to_strike()?;
        let fresh = self.starts(row) == 0 && self.sheet.count(row, SINCE) == Some(1);
        if fresh {
            return None;
        }
        let row = match self.starts(row) {
            0 => row,
            _ => self.close(row),
        };
        let (prep, old) = (
            self.sheet.cell(row, "prep").to_owned(),
            self.sheet.cell(row, TIP).to_owned(),
        );
        let new = self.name_after(&prep, &old);
        self.sheet.set(row, SINCE, "1");
        self.sheet.set(row, TIP, new.as_str());
        if old.is_empty() {
            return Some(new);
        }
        for later in row + 1..self.sheet.len() {
            let same = self.sheet.cell(later, "prep") == prep && self.sheet.cell(later, TIP) == old;
            if same && self.starts(later) == 0 {
                self.sheet.set(later, TIP, new.as_str());
                self.sheet.set(later, SINCE, "");
            }
        }
        Some(new)
    }

    /// The row of the last start of this recording.
    pub fn newest(&self) -> Option<usize> {
        let is_newest = |row: &usize| {
            self.sheet.cell(*row, FILE) == self.recording
                && self.starts(*row) > 0
                && self.sheet.cell(*row, TO).is_empty()
        };
        (0..self.sheet.len()).find(is_newest)
    }

    /// Parts a row behind its last start; returns the row of what is still to be struck.
    fn close(&mut self, row: usize) -> usize {
        let (starts, left) = (self.starts(row), self.left(row));
        let first = self.sheet.count(row, SINCE);
        let since = first.map(|first| (SINCE, (first + starts).to_string()));
        let mut rest = vec![
            (STARTS, "0".to_owned()),
            (PLANNED, left.to_string()),
            (FROM, String::new()),
            (TO, String::new()),
        ];
        rest.extend(since);
        let struck = vec![(PLANNED, starts.to_string())];
        self.sheet.part(row, &[struck, rest]);
        row + 1
    }

    /// A row for a start that no row asked for: on the tip struck last, and set aside.
    fn add_beyond(&mut self) -> usize {
        let last = self.newest().unwrap_or(self.sheet.len() - 1);
        let end = self.sheet.len();
        self.sheet.copy(last, end - 1);
        let cells = [
            (STARTS, "0"),
            (PLANNED, "0"),
            (EXCLUDE, BEYOND),
            (SINCE, ""),
        ];
        for (column, value) in cells {
            self.sheet.set(end, column, value);
        }
        end
    }

    /// A name for the next grinding of a tip that no row has: A1, A1-2, A1-3.
    fn name_after(&self, prep: &str, tip: &str) -> String {
        let numbered = tip
            .rsplit_once('-')
            .and_then(|(stem, number)| Some((stem, number.parse::<u32>().ok()?)));
        let (stem, last) = match numbered {
            Some(numbered) => numbered,
            None if tip.is_empty() => (prep, 1),
            None => (tip, 1),
        };
        let taken = |name: &str| (0..self.sheet.len()).any(|row| self.sheet.cell(row, TIP) == name);
        let mut names = (last.saturating_add(1)..).map(|number| format!("{stem}-{number}"));
        names
            .find(|name| !taken(name))
            .expect("a sheet has fewer rows than there are numbers")
    }

    fn starts(&self, row: usize) -> u32 {
        self.sheet.count(row, STARTS).unwrap_or(0)
    }

    fn planned(&self, row: usize) -> u32 {
        self.sheet.count(row, PLANNED).unwrap_or(0)
    }
}

#[cfg(test)]
mod tests;
