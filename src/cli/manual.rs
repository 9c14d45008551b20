//! `tipstrike manual`: man pages and shell completions, made from the command line's own definition.

use std::path::PathBuf;

use clap::{CommandFactory, ValueEnum};
use clap_complete::Shell;

use super::{Cli, Outcome, terminal};
use crate::error::{Error, Result};
use crate::report::text::plain;

/// Write the man pages and the shell completions into a folder.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:
  tipstrike manual help
  man -l help/tipstrike-compare.1
  source help/tipstrike.bash")]
pub struct Args {
    /// Folder to write into
    folder: PathBuf,
}

/// Runs the verb.
///
/// # Errors
/// What the system refuses.
pub fn run(args: Args) -> Result<Outcome> {
    let folder = &args.folder;
    let refused = |e| Error::io(folder, "write into", e);
    std::fs::create_dir_all(folder).map_err(refused)?;
    clap_mangen::generate_to(Cli::command(), folder).map_err(refused)?;
    for shell in Shell::value_variants() {
        clap_complete::generate_to(*shell, &mut Cli::command(), "tipstrike", folder)
            .map_err(refused)?;
    }
    terminal::out(|out| {
        writeln!(
            out,
            "Man pages and shell completions are in {}.",
            plain(&folder.display().to_string())
        )
    })?;
    Ok(Outcome::Done)
}
