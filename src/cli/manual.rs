//! `tipstrike manual`: writes man pages and shell completions, generated from the definition of the command line.

use std::ffi::OsString;
use std::fs::{self, DirEntry};
use std::io;
use std::path::PathBuf;

use clap::{Command, ValueEnum};
use clap_complete::Shell;

use crate::cli::outcome::Outcome;
use crate::cli::{answer, terminal};
use crate::error::{Error, Result};
use crate::output;
use crate::output::Form;
use crate::report::text::plain;

/// Write the man pages and the shell completions into a folder.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:
  tipstrike manual help
  man -l help/tipstrike-compare.1
  source help/tipstrike.bash")]
pub struct ManualArgs {
    /// Folder to write into
    folder: PathBuf,
}

/// A page or completion, which names the tool soon.
const PAGE: Form = Form {
    name: "a man page or completion of this tool",
    is_own: |head| answer::has(&head[..head.len().min(1024)], "tipstrike"),
};

/// Runs the verb.
///
/// # Errors
/// The operating system refused.
pub fn run(args: ManualArgs, command: Command) -> Result<Outcome> {
    let folder = &args.folder;
    fs::create_dir_all(folder).map_err(|e| Error::io(folder, "create", e))?;
    for (name, bytes) in pages(command).map_err(|e| Error::io(folder, "write", e))? {
        output::whole(&folder.join(name), &PAGE, |out| out.write_all(&bytes))?;
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

/// Generates every file by name. The libraries write files themselves, and not atomically, so they get a temporary
/// folder.
fn pages(mut command: Command) -> io::Result<Vec<(OsString, Vec<u8>)>> {
    let staged = tempfile::tempdir()?;
    clap_mangen::generate_to(command.clone(), &staged)?;
    for shell in Shell::value_variants() {
        clap_complete::generate_to(*shell, &mut command, "tipstrike", staged.path())?;
    }
    let page = |entry: io::Result<DirEntry>| {
        let entry = entry?;
        Ok((entry.file_name(), fs::read(entry.path())?))
    };
    fs::read_dir(&staged)?.map(page).collect()
}
