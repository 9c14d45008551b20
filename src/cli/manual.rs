//! `tipstrike manual`: writes man pages and shell completions, generated from the definition of the command line.

use std::fs;
use std::io;
use std::path::PathBuf;

use clap::{Command, ValueEnum};
use clap_complete::{Generator, Shell};
use clap_mangen::Man;

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

/// Name that the pages and completions are for.
const NAME: &str = "tipstrike";

/// Generates every file by name, in memory: the libraries write files neither atomically nor without a panic.
fn pages(command: Command) -> io::Result<Vec<(String, Vec<u8>)>> {
    let mut pages = Vec::new();
    for shell in Shell::value_variants() {
        let mut bytes = Vec::new();
        clap_complete::generate(*shell, &mut command.clone(), NAME, &mut bytes);
        pages.push((shell.file_name(NAME), bytes));
    }
    let mut command = command.disable_help_subcommand(true);
    command.build();
    man_pages(command, &mut pages)?;
    Ok(pages)
}

/// The man page of a command, behind those of its verbs.
fn man_pages(command: Command, pages: &mut Vec<(String, Vec<u8>)>) -> io::Result<()> {
    let shown = command.get_subcommands().filter(|verb| !verb.is_hide_set());
    for verb in shown.cloned() {
        man_pages(verb, pages)?;
    }
    let (man, mut bytes) = (Man::new(command), Vec::new());
    man.render(&mut bytes)?;
    pages.push((man.get_filename(), bytes));
    Ok(())
}
