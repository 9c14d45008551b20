//! Calling the program as a user does.

use std::path::Path;
use std::process::{Command, Output};

/// What the program answers to these arguments in a folder.
pub fn tipstrike(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args(args)
        .current_dir(folder)
        .output()
        .unwrap()
}
