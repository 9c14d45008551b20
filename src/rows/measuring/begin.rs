//! From a folder of recordings to a job: what they show of their wiring, and which prep their names tell.

use std::path::Path;

use crate::error::{Error, ErrorKind, Result};
use crate::job::{DraftRun, Logger, SHEET_FILE, Sign};
use crate::measuring::folder;
use crate::parallel;
use crate::recording::{self, Inspection, Seen, Why};

/// What the recordings of a folder show.
#[derive(Debug, Default)]
pub struct Found {
    /// Each recording by its name from the folder, with what was seen in it.
    pub recordings: Vec<(String, Inspection)>,
    /// Those that could not be read, and why.
    pub not_read: Vec<(String, Error)>,
}

/// Looks into every recording of a folder; a folder without any is fine.
///
/// # Errors
/// A folder that cannot be read, or that holds a run sheet already. A job file alone is none: its run sheet is what lacks.
pub fn look(folder: &Path) -> Result<Found> {
    let path = folder.join(SHEET_FILE);
    if path.exists() {
        let path = path.display().to_string();
        return Err(
            Error::new(ErrorKind::OutputExists, path, "is there already")
                .hint("Nothing is written over: go on with that job, or name another folder"),
        );
    }
    let files = match folder::recordings_in(folder, true, false) {
        Err(error) if error.kind() == ErrorKind::NoRecordings => Vec::new(),
        other => other?,
    };
    let bare = Logger::default();
    let looks = parallel::each(&files, |file| recording::inspect(&file.path, &bare));
    let mut found = Found::default();
    for (name, look) in files.into_iter().map(|file| file.name).zip(looks) {
        match look {
            Ok(seen) => found.recordings.push((name, seen)),
            Err(error) => found.not_read.push((name, error)),
        }
    }
    Ok(found)
}

impl Found {
    /// The recording that tells most of the wiring: the first whose roles are more than a habit.
    pub fn model(&self) -> Option<&(String, Inspection)> {
        let sure = |(_, seen): &&(String, Inspection)| {
            let roles = seen.channels.iter().filter_map(|c| c.reason);
            roles.clone().next().is_some() && !roles.clone().any(|why| why == Why::Habit)
        };
        self.recordings
            .iter()
            .find(sure)
            .or(self.recordings.first())
    }

    /// Names of the recordings that another logger or another set-up made than the model's.
    pub fn wired_otherwise(&self) -> Vec<&str> {
        let Some((_, model)) = self.model() else {
            return Vec::new();
        };
        let titles = |seen: &Inspection| -> Vec<_> {
            seen.channels
                .iter()
                .map(|c| (c.title.clone(), c.reading))
                .collect()
        };
        let same = titles(model);
        let others = self
            .recordings
            .iter()
            .filter(|(_, seen)| titles(seen) != same);
        others.map(|(name, _)| name.as_str()).collect()
    }

    /// The mains frequency of the hum that shows most often, Hz.
    pub fn mains_hz(&self) -> Option<f64> {
        let hums = self.recordings.iter().flat_map(|(_, seen)| &seen.findings);
        let hums: Vec<f64> = hums
            .filter_map(|finding| match finding.seen {
                Seen::Hum { hz, .. } => Some(hz),
                _ => None,
            })
            .collect();
        let at = |hz: f64| hums.iter().filter(|seen| (**seen - hz).abs() < 2.0).count();
        match (at(50.0), at(60.0)) {
            (0, 0) => None,
            (fifty, sixty) => Some(if sixty > fifty { 60.0 } else { 50.0 }),
        }
    }

    /// The sign of the current while it is highest: that of electrode negative on DC; `None` where both signs occur alike.
    pub fn electrode_negative(&self) -> Option<Sign> {
        let (_, model) = self.model()?;
        let (up, down) = (model.current.high, -model.current.low);
        match () {
            () if up > 2.0 * down => Some(Sign::Positive),
            () if down > 2.0 * up => Some(Sign::Negative),
            () => None,
        }
    }
}

/// The prep, and the tip where it is numbered, that a recording's name tells: a part of it is a prep's name, alone or with a
/// number behind ("lid-A3.wav": prep A, tip A3). Nothing where no part or several preps fit.
pub fn run_of(file: &str, preps: &[String]) -> DraftRun {
    let mut run = DraftRun {
        file: file.to_owned(),
        ..DraftRun::default()
    };
    let stem = file.split('.').next().unwrap_or(file);
    let parts = stem.split(|c: char| !c.is_alphanumeric());
    let fits: Vec<(&String, &str)> = parts
        .flat_map(|part| {
            preps
                .iter()
                .filter_map(move |prep| Some((prep, number_behind(part, prep)?)))
        })
        .collect();
    let Some((prep, _)) = fits.first() else {
        return run;
    };
    if fits.iter().all(|(other, _)| other == prep) {
        run.prep = (*prep).clone();
        run.note = "prep by the file's name".to_owned();
        if let Some((_, number)) = fits.iter().find(|(_, number)| !number.is_empty()) {
            run.tip_id = format!("{prep}{number}");
            run.note = "prep and tip by the file's name".to_owned();
        }
    }
    run
}

/// What stands behind a prep's name, in any case of letters: nothing or a number.
fn number_behind<'a>(part: &'a str, prep: &str) -> Option<&'a str> {
    let head = part.get(..prep.len())?;
    let rest = &part[prep.len()..];
    let fits = head.eq_ignore_ascii_case(prep) && rest.bytes().all(|b| b.is_ascii_digit());
    fits.then_some(rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_prep_is_taken_from_a_name_that_tells_one() {
        let preps = ["A".to_owned(), "B".to_owned(), "cut".to_owned()];
        let cases = [
            ("lid-1-A3.wav", "A", "A3"),
            ("rec/b-01.wav", "B", ""),
            ("CUT_2.csv.gz", "cut", ""),
            ("plate.wav", "", ""),
            ("a-against-b.wav", "", ""),
            ("run07.wav", "", ""),
        ];
        for (file, prep, tip) in cases {
            let run = run_of(file, &preps);
            assert_eq!(
                (run.prep.as_str(), run.tip_id.as_str()),
                (prep, tip),
                "{file}"
            );
        }
    }
}
