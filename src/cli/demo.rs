//! `tipstrike demo`: a complete made-up job with recordings and their known truth.

use std::path::{Path, PathBuf};

use crate::cli::outcome::Outcome;
use crate::cli::terminal;
use crate::demo::classes::{self, Class};
use crate::demo::shop::{self, DemoFile};
use crate::error::{Error, ErrorKind, Result};
use crate::output;
use crate::output::Form;
use crate::parallel;
use crate::report::text::plain;

/// Write a complete made-up job: recordings from an arc model, and what is true of them.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:
  tipstrike demo try
  tipstrike compare try/job.toml --by prep
  tipstrike demo hard --classes --seed 7")]
pub struct DemoArgs {
    /// Folder to write into: a new or an empty one.
    folder: PathBuf,
    /// Write what real machines and loggers do to the traces instead: one job for each class, with its truth.
    #[arg(long)]
    classes: bool,
    /// Draw the classes from this number: another one gives other currents, noises, instants.
    #[arg(long, value_name = "N", requires = "classes", default_value_t = 1)]
    seed: u64,
}

/// A file of the demo, which replaces nothing.
const DEMO: Form = Form {
    name: "an empty file",
    is_own: |_| false,
};

/// Writes the demo.
///
/// # Errors
/// A folder that holds something already; what the system refuses.
pub fn run(args: DemoArgs) -> Result<Outcome> {
    let folder = &args.folder;
    must_be_empty(folder)?;
    let shown = plain(&folder.display().to_string());
    if args.classes {
        let written = parallel::each(Class::ALL, |class| {
            write(folder, &classes::job(*class, args.seed, 0).files)
        });
        written.into_iter().collect::<Result<()>>()?;
        let count = Class::ALL.len();
        terminal::out(|out| {
            writeln!(
                out,
                "{count} jobs in {shown}; truth.json in each says what is true of its starts."
            )?;
            writeln!(out, "Next: tipstrike measure {shown}/noise-0")
        })?;
        return Ok(Outcome::Done);
    }
    // The page in a browser tries the samples only: nobody waits there for a shift's recordings.
    let files = match cfg!(target_family = "wasm") {
        true => shop::samples(),
        false => shop::everything(),
    };
    write(folder, &files)?;
    let count = files.len();
    terminal::out(|out| {
        writeln!(
            out,
            "{count} files in {shown}; README.md there says what they are."
        )?;
        writeln!(out, "Next: tipstrike compare {shown}/job.toml --by prep")
    })?;
    Ok(Outcome::Done)
}

fn write(folder: &Path, files: &[DemoFile]) -> Result<()> {
    for file in files {
        let path = folder.join(&file.path);
        let parent = path.parent().expect("a file lies in a folder");
        std::fs::create_dir_all(parent).map_err(|e| Error::io(parent, "create", e))?;
        output::whole(&path, &DEMO, |to| to.write_all(&file.bytes))?;
    }
    Ok(())
}

fn must_be_empty(folder: &Path) -> Result<()> {
    let Ok(mut entries) = folder.read_dir() else {
        return Ok(());
    };
    match entries.next() {
        None => Ok(()),
        Some(_) => Err(Error::new(
            ErrorKind::OutputExists,
            folder.display().to_string(),
            "the folder is not empty",
        )
        .hint("Name a new one: demo overwrites nothing")),
    }
}
