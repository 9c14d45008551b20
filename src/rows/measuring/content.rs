//! One content, counted once: recordings are told apart by what they hold, not by how they are named.

use std::collections::hash_map::DefaultHasher;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::hash::Hasher;
use std::path::{Path, PathBuf};

use crate::bytes::{Bytes, same_content, sha256};
use crate::error::{Error, ErrorKind, Result};
use crate::job::Job;
use crate::measuring::folder::Loose;
use crate::parallel;

/// Recordings with the content of one named before: their paths, and the first path of that content.
#[derive(Debug, Default)]
pub(super) struct Doubles(HashMap<PathBuf, PathBuf>);

/// A sample of this many pieces, spread evenly, tells most files of one length apart; an idle stretch alone would not …
const PIECES: u64 = 8;
/// … of this many bytes each.
const PIECE: usize = 512;

impl Doubles {
    /// Looks for them among recordings in the order named. An empty file has no content to share.
    pub fn among<'a>(paths: impl Iterator<Item = &'a Path>) -> Doubles {
        let mut by_length: BTreeMap<u64, Vec<&Path>> = BTreeMap::new();
        let mut seen = HashSet::new();
        for path in paths.filter(|path| seen.insert(*path)) {
            if let Ok(about) = path.metadata()
                && about.is_file()
                && about.len() > 0
            {
                by_length.entry(about.len()).or_default().push(path);
            }
        }
        let mut doubles = HashMap::new();
        for (length, alike) in by_length.into_iter().filter(|(_, alike)| alike.len() > 1) {
            let samples: Vec<u64> = parallel::each(&alike, |path| sample(path, length));
            let mut by_sample: BTreeMap<u64, Vec<&Path>> = BTreeMap::new();
            for (path, sample) in alike.into_iter().zip(samples) {
                by_sample.entry(sample).or_default().push(path);
            }
            for (copy, first) in by_sample.values().flat_map(|alike| copies(alike)) {
                doubles.insert(copy.to_owned(), first.to_owned());
            }
        }
        Doubles(doubles)
    }

    /// The first path named of the same content; the path itself where it is the first.
    pub fn first<'a>(&'a self, path: &'a Path) -> &'a Path {
        self.0.get(path).map_or(path, PathBuf::as_path)
    }
}

/// Tells most files of one length apart; those that cannot be read are all alike.
fn sample(path: &Path, length: u64) -> u64 {
    let mut hasher = DefaultHasher::new();
    let mut piece = [0; PIECE];
    let bytes = Bytes::file(path).ok();
    for at in (0..PIECES).map(|k| length * k / PIECES) {
        let piece = &mut piece[..PIECE.min((length - at) as usize)];
        if bytes
            .as_ref()
            .is_some_and(|bytes| bytes.read_at(at, piece).is_ok())
        {
            hasher.write(piece);
        }
    }
    hasher.finish()
}

/// Of files that no sample tells apart, each with the content of one before, and that one.
fn copies<'a>(alike: &[&'a Path]) -> Vec<(&'a Path, &'a Path)> {
    if let [first, second] = *alike {
        return Vec::from_iter(same_content(first, second).then_some((second, first)));
    }
    // Each is read once; held against each other, many would be read again and again.
    let mut firsts: HashMap<String, &Path> = HashMap::new();
    let told = alike.iter().filter_map(|path| {
        let first = *firsts.entry(sha256(path).ok()?).or_insert(path);
        (first != *path).then_some((*path, first))
    });
    told.collect()
}

/// Recordings that count once, and under names that tell them apart.
#[derive(Debug, Default)]
pub(super) struct Unified {
    /// Recordings named by themselves that count.
    pub loose: Vec<Loose>,
    /// Names of recordings with the content of another, and the other's.
    pub copies: Vec<(String, String)>,
}

/// Takes out recordings named by themselves that hold the same as another, gives rows of a sheet that mean one recording
/// one path, and makes equal names of different recordings differ by their folders.
///
/// # Errors
/// A sheet or two jobs by which the starts of one recording count twice.
pub(super) fn unify(jobs: &mut [&mut Job], loose: Vec<Loose>) -> Result<Unified> {
    let in_jobs = jobs
        .iter()
        .flat_map(|job| job.runs.iter().map(|run| run.path.as_path()));
    let doubles = Doubles::among(in_jobs.chain(loose.iter().map(|file| file.path.as_path())));
    let mut unified = Unified::default();
    for job in jobs.iter_mut() {
        // What a pattern finds twice is a copy; a row that somebody wrote is a statement.
        let copies = job.runs.extract_if(.., |run| {
            run.by_pattern && doubles.first(&run.path) != run.path
        });
        let copies = copies.map(|run| (run.file, doubles.first(&run.path).to_owned()));
        let copies: Vec<(String, PathBuf)> = copies.collect();
        let named = job.runs.iter().rev().map(|run| (&run.path, &run.file));
        let names: HashMap<&PathBuf, &String> = named.collect();
        let told = copies.into_iter().map(|(copy, first)| {
            let name = names.get(&first).map(|name| (*name).clone());
            (copy, name.unwrap_or_else(|| first.display().to_string()))
        });
        unified.copies.extend(told);
        job.one_path_each(|path| doubles.first(path).to_owned())?;
    }
    refuse_shared(jobs)?;
    let mut names: HashMap<PathBuf, String> = HashMap::new();
    for run in jobs.iter().flat_map(|job| &job.runs) {
        names
            .entry(run.path.clone())
            .or_insert_with(|| run.file.clone());
    }
    for file in loose {
        let first = doubles.first(&file.path);
        match names.get(first) {
            // Of one name, the path as given tells which was meant.
            Some(known) if *known == file.name => {
                let path = file.path.display().to_string();
                unified.copies.push((path, known.clone()));
            }
            Some(known) => unified.copies.push((file.name, known.clone())),
            None => {
                names.insert(first.to_owned(), file.name.clone());
                unified.loose.push(file);
            }
        }
    }
    tell_apart(jobs, &mut unified.loose);
    Ok(unified)
}

/// Two jobs that would count the same starts twice.
fn refuse_shared(jobs: &[&mut Job]) -> Result<()> {
    let mut known: HashMap<&Path, Vec<(usize, &crate::job::Run)>> = HashMap::new();
    for (k, job) in jobs.iter().enumerate() {
        for run in &job.runs {
            let (from, to) = run.span_s();
            let before = known.entry(&run.path).or_default();
            let twin = before.iter().find(|(other, before)| {
                let span = before.span_s();
                *other != k && span.0 < to && from < span.1
            });
            if let Some((other, twin)) = twin {
                let at = job.folder.join(&run.file).display().to_string();
                let same = jobs[*other].folder.join(&twin.file);
                let problem = format!(
                    "holds the same recording as {}, so it would be counted twice",
                    same.display()
                );
                return Err(Error::new(ErrorKind::CountedTwice, at, problem)
                    .hint("Name each job, table or recording once; not a table beside the job it was made from."));
            }
            before.push((k, run));
        }
    }
    Ok(())
}

/// Puts the folder before names that different recordings share.
fn tell_apart(jobs: &mut [&mut Job], loose: &mut [Loose]) {
    let mut paths: HashMap<String, HashSet<PathBuf>> = HashMap::new();
    let in_jobs = jobs
        .iter()
        .flat_map(|job| job.runs.iter().map(|run| (&run.file, &run.path)));
    for (name, path) in in_jobs.chain(loose.iter().map(|file| (&file.name, &file.path))) {
        paths.entry(name.clone()).or_default().insert(path.clone());
    }
    let shared = |name: &str| paths.get(name).is_some_and(|paths| paths.len() > 1);
    for job in jobs {
        let folder = job.folder.clone();
        for run in job.runs.iter_mut().filter(|run| shared(&run.file)) {
            run.file = folder.join(&run.file).display().to_string();
        }
    }
    for file in loose.iter_mut().filter(|file| shared(&file.name)) {
        file.name = file.path.display().to_string();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Recordings of one logger lie between the same idle stretches: what samples do not tell apart, all their bytes do.
    #[test]
    fn files_that_no_sample_tells_apart_are_told_apart_by_all_their_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let paths = ["a", "b", "c", "d"].map(|name| folder.path().join(name));
        for (path, told) in paths.iter().zip([1, 2, 1, 2]) {
            let mut bytes = vec![0; 1 << 16];
            bytes[5000] = told;
            std::fs::write(path, bytes).unwrap();
        }
        let length = 1 << 16;
        assert_eq!(sample(&paths[0], length), sample(&paths[1], length));
        let first = |paths: &[PathBuf]| {
            let doubles = Doubles::among(paths.iter().map(PathBuf::as_path));
            let firsts = paths.iter().map(|path| doubles.first(path));
            firsts.map(Path::to_owned).collect::<Vec<_>>()
        };
        let [a, b, ..] = paths.clone();
        assert_eq!(first(&paths), [a.clone(), b.clone(), a.clone(), b.clone()]);
        assert_eq!(first(&paths[..2]), [a.clone(), b], "two");
        assert_eq!(
            first(&[a.clone(), paths[2].clone()]),
            [a.clone(), a],
            "two alike"
        );
    }
}
