//! `screen` again over a folder that grew: the same answer, only what is new measured.

use std::path::Path;
use std::process::{Command, Output};

fn screen(folder: &Path, cache: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args(["screen", "--json", "-"])
        .arg(folder)
        .args(more)
        .env("XDG_CACHE_HOME", cache)
        .env("HOME", cache)
        .output()
        .unwrap()
}

/// The entries, wherever the system has its caches.
fn entries(folder: &Path) -> Vec<std::path::PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten() {
        let path = entry.unwrap().path();
        match path.is_dir() {
            true => found.extend(entries(&path)),
            false => found.push(path),
        }
    }
    found
}

/// Bytes that are kept.
fn size(folder: &Path) -> u64 {
    entries(folder)
        .iter()
        .map(|entry| entry.metadata().unwrap().len())
        .sum()
}

#[cfg(unix)]
#[test]
fn screening_again_gives_the_same_answer_and_measures_only_what_is_new() {
    let (shift, cache) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let copy = |name: &str| std::fs::copy(samples.join(name), shift.path().join(name)).unwrap();
    copy("job.toml");
    copy("lid-1-A1.wav");
    let first = screen(shift.path(), cache.path(), &[]);
    let kept = size(cache.path());
    assert!(kept > 1000, "{kept}");
    assert_eq!(screen(shift.path(), cache.path(), &[]), first);
    assert_eq!(size(cache.path()), kept, "nothing was measured");
    copy("lid-2-A3.wav");
    copy("lid-2-B4.wav");
    let grown = screen(shift.path(), cache.path(), &[]);
    assert!(
        (2 * kept..4 * kept).contains(&size(cache.path())),
        "two were measured"
    );
    let anew = screen(shift.path(), cache.path(), &["--anew"]);
    assert_eq!(grown, anew);
    for entry in entries(cache.path()) {
        std::fs::write(entry, "spoilt").unwrap();
    }
    assert_eq!(screen(shift.path(), cache.path(), &[]), anew);
    assert_ne!(first.stdout, anew.stdout);
}

#[cfg(unix)]
#[test]
fn anew_keeps_nothing_and_a_cache_that_cannot_be_made_is_no_obstacle() {
    let cache = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let anew = screen(&samples, cache.path(), &["--anew"]);
    assert!(entries(cache.path()).is_empty());
    let blocked = cache.path().join("file");
    std::fs::write(&blocked, "").unwrap();
    assert_eq!(screen(&samples, &blocked, &[]), anew);
}
