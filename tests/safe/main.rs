//! Nothing lost, nothing counted twice, nothing of others touched.
#![cfg(unix)]

mod day;
mod groups;
mod injection;
mod inputs;
mod memory;
mod once;
mod outputs;
mod parts;
mod steady;
mod store;

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The tool in a folder, with a cache of its own beside it.
fn command(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    command
        .args(args)
        .current_dir(folder)
        .env("XDG_CACHE_HOME", cache_of(folder))
        // A page tells when it was made.
        .env("SOURCE_DATE_EPOCH", "1700000000")
        .stdin(Stdio::null());
    command
}

fn cache_of(folder: &Path) -> PathBuf {
    folder.join(".cache")
}

fn tipstrike(folder: &Path, args: &[&str]) -> Output {
    command(folder, args).output().unwrap()
}

/// What it says of an outcome with this exit code.
fn said(folder: &Path, args: &[&str], code: i32) -> String {
    let output = tipstrike(folder, args);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(code), "{args:?}: {said}");
    assert!(
        !said.contains("panicked") && !said.contains(".tmp"),
        "{args:?}: {said}"
    );
    said
}

/// What it prints where it ends well.
fn printed(folder: &Path, args: &[&str]) -> String {
    let output = tipstrike(folder, args);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {said}");
    String::from_utf8(output.stdout).unwrap()
}

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("samples")
        .join(name)
}

/// Recordings of the samples.
const A: &str = "lid-1-A1.wav";
const B: &str = "lid-2-B4.wav";

/// A folder whose name does not look like that of a temporary file.
fn folder() -> tempfile::TempDir {
    tempfile::Builder::new().prefix("safe-").tempdir().unwrap()
}

/// A job with these rows of a sheet, and two recordings of the samples as `a.wav` and `b.wav`.
fn job(rows: &str) -> tempfile::TempDir {
    let folder = folder();
    let path = |name: &str| folder.path().join(name);
    std::fs::copy(sample("job.toml"), path("job.toml")).unwrap();
    std::fs::copy(sample(A), path("a.wav")).unwrap();
    std::fs::copy(sample(B), path("b.wav")).unwrap();
    std::fs::write(path("runs.csv"), rows).unwrap();
    folder
}

/// Names in a folder, hidden ones too, the cache aside.
fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).unwrap();
    let names = entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned());
    let mut names: Vec<String> = names.filter(|name| name != ".cache").collect();
    names.sort();
    names
}
