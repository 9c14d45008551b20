//! Seeds and findings of the fuzz targets, and hundreds of mutations of them, hold what the targets check.

#[path = "fuzz/src/lib.rs"]
mod checks;

use std::panic::catch_unwind;
use std::path::{Path, PathBuf};

use rand::RngExt;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;

/// Mutations of all the seeds of a target. `TIPSTRIKE_LONG=1` makes ten times as many; fuzzing makes them without end.
fn mutations(target: &str) -> usize {
    // Finding starts and reading recordings take a hundred times as long as reading a sheet.
    let short = match target {
        "detect" | "table" | "live" => 150,
        _ => 600,
    };
    match crate::long_form::long() {
        true => 10 * short,
        false => short,
    }
}

/// Changes that a mutation makes at most.
const CHANGES: usize = 4;
/// Bytes of a seed that are mutated: a long one only costs time.
const LONGEST: usize = 4096;
/// What is put in besides single bytes: numbers at the edge, words for none, what separates and what escapes.
const WORDS: [&[u8]; 24] = [
    b"nan",
    b"-inf",
    b"1e308",
    b"-1e-320",
    b"9223372036854775808",
    b"4294967295",
    b"0",
    b"-1",
    b"0.5",
    b"1,5",
    b",",
    b";",
    b"\t",
    b"\n",
    b"\r",
    b"\"",
    b"=",
    b"../",
    b"\xef\xbb\xbf",
    b"\xff\xfe",
    b"\0",
    b"\xff\xff\xff\xff",
    b"\x1b[2J",
    "\u{202e}".as_bytes(),
];

/// Folders of a target's seeds, from the repository's root, and what their names must have.
fn sources(target: &str) -> Vec<(String, &'static [&'static str])> {
    let shared: &[(&str, &[&str])] = match target {
        "wav" => &[("tests/recordings", &[".wav"])],
        "table" => &[("tests/recordings", &[".csv", ".gz"])],
        "live" => &[("tests/recordings", &[".wav", ".csv"])],
        "job" => &[
            ("samples", &["job.toml"]),
            ("samples/skiffs", &["job.toml"]),
        ],
        "sheet" => &[
            ("samples", &["runs.csv"]),
            ("samples/skiffs", &["runs.csv"]),
        ],
        _ => &[],
    };
    let own = ["seeds", "found"].map(|kind| (format!("tests/fuzz/{kind}/{target}"), &[""][..]));
    shared
        .iter()
        .map(|(folder, endings)| (folder.to_string(), *endings))
        .chain(own)
        .collect()
}

fn files(target: &str) -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for (folder, endings) in sources(target) {
        let entries = std::fs::read_dir(root.join(folder)).into_iter().flatten();
        let fits = |path: &PathBuf| endings.iter().any(|e| path.to_string_lossy().ends_with(e));
        files.extend(entries.map(|e| e.unwrap().path()).filter(fits));
    }
    files.sort();
    files
}

/// Runs a target on its files and on mutations of them; what does not hold is named, or kept in a file of its own.
fn replay(target: &str) {
    let check = checks::TARGETS
        .iter()
        .find(|(name, _)| *name == target)
        .unwrap()
        .1;
    let files = files(target);
    assert!(!files.is_empty(), "{target} has no seeds");
    let seeds: Vec<Vec<u8>> = files
        .iter()
        .map(|file| std::fs::read(file).unwrap())
        .collect();
    for (file, bytes) in files.iter().zip(&seeds) {
        assert!(
            catch_unwind(|| check(bytes)).is_ok(),
            "{target} does not hold on {}",
            file.display()
        );
    }
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    for k in 0..mutations(target) {
        let bytes = mutated(&seeds[k % seeds.len()], &mut rng);
        if catch_unwind(|| check(&bytes)).is_err() {
            let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{target}-{k}"));
            std::fs::write(&kept, &bytes).unwrap();
            panic!("{target} does not hold on {}", kept.display());
        }
    }
}

fn mutated(seed: &[u8], rng: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = seed[..seed.len().min(LONGEST)].to_vec();
    for _ in 0..rng.random_range(1..=CHANGES) {
        let at = rng.random_range(0..=bytes.len());
        let to = (at + rng.random_range(0..16)).min(bytes.len());
        match rng.random_range(0..6) {
            0 if at < bytes.len() => bytes[at] ^= 1 << rng.random_range(0..8),
            1 if at < bytes.len() => bytes[at] = rng.random(),
            2 => drop(bytes.drain(at..to)),
            3 => bytes.truncate(at),
            4 => bytes.extend_from_within(at..to),
            _ => {
                let word = WORDS[rng.random_range(0..WORDS.len())];
                bytes.splice(at..to, word.iter().copied());
            }
        }
    }
    bytes
}

macro_rules! replayed {
    ($($target:ident)*) => { $(#[test] fn $target() { replay(stringify!($target)); })* };
}

replayed! { wav table job sheet starts detect live }
