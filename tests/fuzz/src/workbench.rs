//! A folder to put files into, and what every error must have.

use std::path::PathBuf;

use tipstrike::Error;

thread_local! {
    static FOLDER: tempfile::TempDir = tempfile::tempdir().expect("a folder for files");
}

/// A file of this thread's folder with these bytes.
pub fn file(name: &str, bytes: &[u8]) -> PathBuf {
    let path = FOLDER.with(|folder| folder.path().join(name));
    std::fs::write(&path, bytes).expect("a file can be written");
    path
}

/// An error says where: it names one of these in every line.
pub fn says_where(error: &Error, places: &[&str]) {
    let said = error.to_string();
    assert!(!said.trim().is_empty(), "an error without words");
    for line in said.lines() {
        let names_one = places.iter().any(|place| line.contains(place));
        assert!(names_one, "no place in: {line}");
    }
}
