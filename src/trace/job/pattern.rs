//! Rows of the run sheet that name their recordings by a pattern (`cell03/*.wav`), so that one sheet serves many nights.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use glob::{MatchOptions, Pattern};

use crate::job::Job;
use crate::job::run::Run;
use crate::job::sheet_row::inside;

/// `*` stays in its folder, and hidden files are named or not meant.
const MATCH: MatchOptions = MatchOptions {
    case_sensitive: true,
    require_literal_separator: true,
    require_literal_leading_dot: true,
};

/// Whether a cell of the column `file` is a pattern.
pub fn is_pattern(file: &str) -> bool {
    file.contains(['*', '?'])
}

impl Job {
    /// Puts the recordings in place of the rows that name them by a pattern; a recording with a row of its own is left to it.
    /// Returns the patterns that no recording fits.
    pub fn take_patterns(&mut self) -> Vec<String> {
        let meant = |run: &Run| is_pattern(&run.file) && !run.path.is_file();
        if !self.runs.iter().any(meant) {
            return Vec::new();
        }
        let own = self
            .runs
            .iter()
            .filter(|run| !meant(run))
            .map(|run| run.path.clone());
        let own: HashSet<PathBuf> = own.collect();
        let (mut runs, mut unused) = (Vec::new(), Vec::new());
        for run in std::mem::take(&mut self.runs) {
            if !meant(&run) {
                runs.push(run);
                continue;
            }
            let before = runs.len();
            for (file, path) in fitting(&run.file, &self.folder) {
                if !own.contains(&path) {
                    runs.push(Run {
                        file,
                        path,
                        by_pattern: true,
                        ..run.clone()
                    });
                }
            }
            if runs.len() == before {
                unused.push(run.file);
            }
        }
        for (run, number) in runs.iter_mut().zip(1..) {
            run.number = number;
        }
        self.runs = runs;
        unused
    }

    /// The first row whose pattern a recording fits, by its path in the job's folder or by one of these names.
    pub fn row_for(&self, path: &Path, name: &str) -> Option<&Run> {
        let in_folder = || {
            let path = path.canonicalize().ok()?;
            let folder = self.folder.canonicalize().ok()?;
            Some(slashed(path.strip_prefix(folder).ok()?))
        };
        let names = [in_folder(), Some(name.to_owned())];
        let fits = |run: &&Run| {
            let pattern = Pattern::new(&in_glob(&run.file));
            let fits = |name: &String| pattern.as_ref().is_ok_and(|p| p.matches_with(name, MATCH));
            is_pattern(&run.file) && names.iter().flatten().any(fits)
        };
        self.runs.iter().find(fits)
    }
}

/// A pattern as `glob` writes it, where brackets are letters as any other.
fn in_glob(file: &str) -> String {
    file.replace('\\', "/").replace('[', "[[]")
}

/// The files in a folder that fit a pattern, by name.
fn fitting(pattern: &str, folder: &Path) -> Vec<(String, PathBuf)> {
    let within = Pattern::escape(&folder.display().to_string());
    let pattern = format!("{within}/{}", in_glob(pattern));
    let found = glob::glob_with(&pattern, MATCH)
        .into_iter()
        .flatten()
        .flatten();
    let mut fitting: Vec<(String, PathBuf)> = found
        .filter(|path| path.is_file())
        .filter_map(|path| {
            let name = slashed(path.strip_prefix(folder).unwrap_or(&path));
            // A link may lead out of the folder here as well.
            Some((name.clone(), inside(&name, folder).ok()?))
        })
        .collect();
    fitting.sort();
    fitting
}

/// One name on every system.
fn slashed(path: &Path) -> String {
    let parts = path.iter().map(|part| part.to_string_lossy());
    parts
        .filter(|part| part != ".")
        .collect::<Vec<_>>()
        .join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_stands_for_the_files_of_its_folder_that_have_no_row_of_their_own() {
        let folder = tempfile::tempdir().unwrap();
        for name in [
            "cell03/b.wav",
            "cell03/a.wav",
            "cell03/deep/c.wav",
            "cell03/.d.wav",
            "cell04/a.wav",
        ] {
            let path = folder.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, "").unwrap();
        }
        let run = |file: &str| Run {
            file: file.to_owned(),
            path: folder.path().join(file),
            cell: Some("03".to_owned()),
            ..Run::default()
        };
        let mut job = Job::bare(Default::default(), Default::default());
        job.folder = folder.path().to_owned();
        job.runs = vec![
            run("cell03/b.wav"),
            run("cell03/*.wav"),
            run("cell05/*.wav"),
        ];
        assert_eq!(
            job.row_for(Path::new("none"), "cell03/x.wav").unwrap().file,
            "cell03/*.wav"
        );
        assert!(job.row_for(Path::new("none"), "cell03/b/x.wav").is_none());
        assert!(
            job.row_for(&folder.path().join("cell03/a.wav"), "a.wav")
                .is_some()
        );
        assert_eq!(job.take_patterns(), ["cell05/*.wav"]);
        let files: Vec<(&str, u32)> = job.runs.iter().map(|r| (&*r.file, r.number)).collect();
        assert_eq!(files, [("cell03/b.wav", 1), ("cell03/a.wav", 2)]);
        assert!(job.runs.iter().all(|run| run.cell.as_deref() == Some("03")));
    }
}
