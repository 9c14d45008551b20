//! `tipstrike aside`: sets a start of a job aside after the fact, with the reason, in its run sheet.

use std::path::PathBuf;

use crate::cli::outcome::Outcome;
use crate::cli::{answer, progress, terminal};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::{Aside, SHEET_FILE, SheetText, set_aside};
use crate::measuring::gather::{GatherOptions, StartSet};
use crate::output;
use crate::report::text;
use crate::report::text::plain;

/// Set a start aside, with the reason: it stays in tables and page, struck out, and counts in no answer
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike aside kettle-lids 7 --because fumbled
  tipstrike aside kettle-lids 7 --back

ROW is the first column of `tipstrike measure`. The run sheet gets rows of their own for the starts before it,
for it, and for those after it. Decide before you look at the answer: a start set aside because it spoils the
result makes the result worthless.")]
pub struct AsideArgs {
    /// Job file, or folder that holds job.toml
    #[arg(value_name = "JOB")]
    job: PathBuf,
    /// Row of the start, as `measure` numbers them
    #[arg(value_name = "ROW", value_parser = clap::value_parser!(u64).range(1..))]
    row: u64,
    /// Why it is set aside
    #[arg(long, value_name = "REASON", required_unless_present = "back")]
    because: Option<String>,
    /// Count it again
    #[arg(long, conflicts_with = "because")]
    back: bool,
}

/// Runs the verb.
///
/// # Errors
/// An input that is no job, a row that is not there, a sheet that cannot be written.
pub fn run(args: AsideArgs, quiet: bool) -> Result<Outcome> {
    let inputs = [args.job.clone()];
    let gathered = progress::gather(&inputs, &GatherOptions::default(), quiet)?;
    let Some(job) = gathered.jobs.first().map(|of| &of.job) else {
        let problem = "is no job: only a job has a run sheet to set a start aside in";
        return Err(Error::new(ErrorKind::NotAJob, args.job.display().to_string(), problem)
            .hint("Name the folder that holds job.toml, or write the reason into the column exclude of the table"));
    };
    let reason = args.because.as_deref().unwrap_or("").trim();
    let (aside, name) = start_of(&gathered, args.row, reason)?;
    let path = job.folder.join(SHEET_FILE);
    let mut sheet = SheetText::read(&path)?;
    set_aside(&mut sheet, &path.display().to_string(), aside)?;
    output::whole(&path, &answer::SHEET, |out| {
        out.write_all(sheet.written().as_bytes())
    })?;
    let did = match args.back {
        true => format!("{name} counts again."),
        false => format!(
            "{name} is set aside ({reason}): it stays in tables and page and counts in no answer."
        ),
    };
    terminal::out(|out| out.write_all(text::wrapped(&plain(&did), terminal::look()).as_bytes()))?;
    Ok(answer::tell_not_read(&gathered.not_read))
}

/// The start of that row, and its name in words.
fn start_of<'a>(gathered: &StartSet, number: u64, reason: &'a str) -> Result<(Aside<'a>, String)> {
    let rows = &gathered.rows;
    let Some(k) = usize::try_from(number - 1).ok().filter(|k| *k < rows.len()) else {
        let problem = format!("there is no row {number}; the table has {}", rows.len());
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("row").value(number),
            problem,
        ));
    };
    let (row, run) = (&rows[k], rows[k].run);
    let of_run =
        |rows: &[crate::score::StartRow]| rows.iter().filter(|row| row.run == run).count() as u32;
    let aside = Aside {
        run,
        start: of_run(&rows[..=k]),
        of: of_run(rows),
        reason,
    };
    Ok((aside, format!("Row {number}: start {}", row.named())))
}
