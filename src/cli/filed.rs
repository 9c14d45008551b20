//! The files behind a page: their hashes, whether they are still the same, and when the page was made.

use std::path::{Component, Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use crate::bytes::{Bytes, Identity, sha256};
use crate::cli::outcome::Outcome;
use crate::cli::terminal;
use crate::error::{Error, ErrorKind, Result};
use crate::format::counted;
use crate::job::{JOB_FILE, SHEET_FILE};
use crate::measuring::gather::{ReadRecording, StartSet};
use crate::measuring::table;
use crate::report::page::{InputFile, inputs_of};
use crate::report::text::plain;

/// A page larger than this is none of ours, bytes.
const MOST_BYTES: u64 = 64 << 20;

/// Hashes the job files, run sheets, starts tables and recordings of a page that is written to `page`.
///
/// # Errors
/// A file that cannot be read.
pub fn inputs(
    page: &Path,
    named: &[PathBuf],
    rules: Option<&Path>,
    set: &StartSet,
) -> Result<Vec<InputFile>> {
    let mut files: Vec<(&str, PathBuf)> = Vec::new();
    for input in named {
        if input.is_dir() && table::is_partitioned(input) {
            let parts = table::parquet_files(input)?.into_iter();
            files.extend(parts.map(|path| ("starts table", path)));
        }
        let job = match input.is_dir() {
            true => input.join(JOB_FILE),
            false => input.clone(),
        };
        let is_job = job
            .extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("toml"));
        if is_job {
            let sheet = job.with_file_name(SHEET_FILE);
            files.extend([("job file", job), ("run sheet", sheet)]);
        } else if input.is_file() {
            let kind = match table::is_table(input) {
                Ok(true) => "starts table",
                _ => "recording",
            };
            files.push((kind, input.clone()));
        }
    }
    // Of a job whose rules serve recordings named by themselves, the sheet is not read.
    files.extend(rules.map(|path| ("job file", path.to_path_buf())));
    let recordings: Vec<PathBuf> = set
        .sources
        .iter()
        .map(|source| source.path.clone())
        .collect();
    files.retain(|(_, path)| path.is_file() && !recordings.contains(path));
    files.extend(recordings.into_iter().map(|path| ("recording", path)));
    files.dedup_by(|a, b| a.1 == b.1);
    let folder = folder_of(page);
    let hashed = files.into_iter().map(|(kind, path)| {
        Ok(InputFile {
            kind: kind.to_owned(),
            path: from_folder(&folder, &path),
            sha256: sha256(&path)?,
        })
    });
    let hashed = hashed.collect::<Result<Vec<_>>>()?;
    // The hash is that of what was measured, or none.
    let changed = |source: &&ReadRecording| Identity::of(&source.path) != source.identity;
    match set.sources.iter().find(changed) {
        None => Ok(hashed),
        Some(source) => Err(Error::changed(source.path.display().to_string())),
    }
}

/// Folder that a page lies in; of a page on stdout the working folder.
fn folder_of(page: &Path) -> PathBuf {
    let parent = page
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let folder = parent.unwrap_or(Path::new("."));
    folder
        .canonicalize()
        .unwrap_or_else(|_| folder.to_path_buf())
}

/// The path of a file as seen from a folder, with `/` between its parts: it holds on as long as both move together,
/// and names no folder above them.
fn from_folder(folder: &Path, file: &Path) -> String {
    let file = file.canonicalize().unwrap_or_else(|_| file.to_path_buf());
    let (from, to): (Vec<Component>, Vec<Component>) =
        (folder.components().collect(), file.components().collect());
    let same = from.iter().zip(&to).take_while(|(a, b)| a == b).count();
    let up = from[same..].iter().map(|_| "..".to_owned());
    let down = to[same..]
        .iter()
        .map(|part| part.as_os_str().to_string_lossy().into_owned());
    up.chain(down).collect::<Vec<_>>().join("/")
}

/// Says which files of a page are still those it was made from.
///
/// # Errors
/// A page that cannot be read, or that does not tell its files.
pub fn verify(page: &Path) -> Result<Outcome> {
    let text = Bytes::file(page)?.text(MOST_BYTES)?;
    let name = page.display().to_string();
    let files = inputs_of(&text)
        .filter(|files| !files.is_empty())
        .ok_or_else(|| {
            Error::new(
                ErrorKind::NotAPage,
                &name,
                "is not a page that tells the files it was made from",
            )
            .hint("Name a page written by report")
        })?;
    let folder = folder_of(page);
    let mut said = String::new();
    let (mut changed, mut missing) = (0, 0);
    for file in &files {
        let path = folder.join(&file.path);
        let word = match path.is_file() {
            false => "missing",
            true if sha256(&path)? != file.sha256 => "changed",
            true => continue,
        };
        let count = if word == "missing" {
            &mut missing
        } else {
            &mut changed
        };
        *count += 1;
        said += &format!("{word}: {} ({})\n", plain(&file.path), plain(&file.kind));
    }
    let all = counted(files.len(), "file");
    said += &match (changed, missing) {
        (0, 0) => format!("{name}: made from {all}, all still the same.\n"),
        _ => format!("{name}: made from {all}: {changed} changed, {missing} missing.\n"),
    };
    terminal::out(|out| out.write_all(said.as_bytes()))?;
    Ok(match changed + missing {
        0 => Outcome::Done,
        _ => Outcome::OverLimits,
    })
}

/// The moment, in UTC, for people. `SOURCE_DATE_EPOCH` takes its place where it is set, so that a page can be made again
/// to the byte (reproducible-builds.org, "SOURCE_DATE_EPOCH", from memory).
pub fn now() -> String {
    let set = std::env::var("SOURCE_DATE_EPOCH")
        .ok()
        .and_then(|text| text.parse().ok());
    let clock = || {
        SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .map_or(0, |since| since.as_secs())
    };
    moment(set.unwrap_or_else(clock))
}

/// Formats seconds since 1970-01-01 00:00 UTC (H. Hinnant, "chrono-Compatible Low-Level Date Algorithms",
/// civil_from_days, for days from 1970 on).
fn moment(seconds: u64) -> String {
    let (days, rest) = (seconds / 86_400 + 719_468, seconds % 86_400);
    let (era, day_of_era) = (days / 146_097, days % 146_097);
    let year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let shifted = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * shifted + 2) / 5 + 1;
    let month = if shifted < 10 {
        shifted + 3
    } else {
        shifted - 9
    };
    let year = year_of_era + era * 400 + u64::from(month <= 2);
    format!(
        "{year}-{month:02}-{day:02} {:02}:{:02} UTC",
        rest / 3600,
        rest % 3600 / 60
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_those_of_the_calendar() {
        // `date -u -d @SECONDS`, GNU coreutils.
        for (seconds, said) in [
            (0, "1970-01-01 00:00 UTC"),
            (951_782_400, "2000-02-29 00:00 UTC"),
            (1_709_251_199, "2024-02-29 23:59 UTC"),
            (1_735_689_600, "2025-01-01 00:00 UTC"),
            (4_107_542_400, "2100-03-01 00:00 UTC"),
        ] {
            assert_eq!(moment(seconds), said);
        }
    }

    #[test]
    fn a_path_is_told_from_the_folder_of_the_page() {
        let seen = |folder: &str, file: &str| from_folder(Path::new(folder), Path::new(file));
        assert_eq!(seen("/none/a", "/none/a/job/runs.csv"), "job/runs.csv");
        assert_eq!(seen("/none/a/pages", "/none/a/runs.csv"), "../runs.csv");
    }
}
