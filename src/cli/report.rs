//! `tipstrike report`: the page for the supervisor.

use std::path::{Path, PathBuf};

use crate::cli::outcome::Outcome;
use crate::cli::{answer, filed, progress, terminal};
use crate::error::Result;
use crate::job::{JobInfo, Measuring};
use crate::measuring::gather::{GatherOptions, JobRows, StartSet};
use crate::parallel;
use crate::report::page::{PAGE, PageInput, page};
use crate::score::StartRow;
use crate::study::{
    CompareOptions, Comparison, ScreenOptions, Screening, Wear, compare, flag_tip_off,
    mark_tip_off, screen, tip_off_and_wear,
};

/// Write a page that shows the answer first, then all it rests on: one file, nothing fetched.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike report samples -o page.html
  tipstrike report starts.csv -o page.html
  tipstrike report monday tuesday -o week.html --for batch
  tipstrike report lid-17.wav --job job.toml --prep A -o lid-17.html --for part
  tipstrike report --verify page.html

A page made from a starts table has no pictures of the traces: they are in the recordings only.")]
pub struct ReportArgs {
    /// Job files or their folders, starts tables, or folders of recordings
    #[arg(required_unless_present = "verify", value_name = "JOB|TABLE")]
    inputs: Vec<PathBuf>,
    /// The page; - for stdout
    #[arg(short, long, required_unless_present = "verify", value_name = "FILE")]
    output: Option<PathBuf>,
    /// Say whether the files that this page was made from are still the same: exit code 0, else 1
    #[arg(long, conflicts_with_all = ["inputs", "output"], value_name = "PAGE")]
    verify: Option<PathBuf>,
    /// What the page is for: which prep starts better, did a batch start clean, or how one part was started
    #[arg(
        long = "for",
        value_enum,
        default_value = "bench",
        value_name = "bench|batch|part"
    )]
    purpose: Purpose,
    /// Compare (bench) or chart (batch) by: prep, coupon, recording, or a column of the run sheet or prep
    #[arg(long, default_value = "prep", value_name = "COLUMN")]
    by: String,
    /// Job file whose logger, measuring and preps serve recordings named by themselves
    #[arg(long, value_name = "JOB")]
    job: Option<PathBuf>,
    /// Prep of recordings named by themselves; of a job or a table, only its starts
    #[arg(long, value_name = "NAME")]
    prep: Option<String>,
    /// Measure every recording anew, and keep nothing for the next time
    #[arg(long)]
    anew: bool,
}

/// What a page is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Purpose {
    /// Preps compared, their differences and rates, wear
    Bench,
    /// Pass or not, what is past a limit, control charts, wear
    Batch,
    /// Each start of one part with its picture, nothing compared or charted
    Part,
}

/// Runs the verb.
///
/// # Errors
/// Unusable inputs, a page that cannot be written.
pub fn run(args: ReportArgs, quiet: bool) -> Result<Outcome> {
    if let Some(page) = &args.verify {
        return filed::verify(page);
    }
    let output = args.output.as_deref().unwrap_or(Path::new("-"));
    let cache = answer::kept(args.anew);
    let options = GatherOptions {
        previews: true,
        cache: cache.as_ref(),
        job: args.job.as_deref(),
        prep: args.prep.as_deref(),
        ..GatherOptions::default()
    };
    let mut gathered = progress::gather(&args.inputs, &options, quiet)?;
    let read: Vec<PathBuf> = args.inputs.iter().chain(&args.job).cloned().collect();
    answer::spare_inputs(&read, &gathered, &[(Some(output), &PAGE)])?;
    let compared = || match args.purpose {
        Purpose::Bench => comparison(&gathered, &args.by),
        Purpose::Batch | Purpose::Part => Ok(None),
    };
    let files = || filed::inputs(output, &args.inputs, args.job.as_deref(), &gathered);
    // One core alone reads the files: first, so that none waits for it at the end.
    let (comparison, (files, charted)) = parallel::both(compared, || {
        parallel::both(files, || Charted::of(&gathered, &args))
    });
    let (comparison, charted, files) = (comparison?, charted?, files?);
    charted.mark(&mut gathered.rows);
    let made = filed::now();
    let not_read: Vec<_> = gathered
        .not_read
        .iter()
        .map(|(file, error)| (file.clone(), error.to_string()))
        .collect();
    let after = gathered.after();
    let text = page(&PageInput {
        job: &letterhead(&gathered.jobs),
        rows: &gathered.rows,
        details: &gathered.details,
        after: &after,
        comparison: comparison.as_ref(),
        wear: match args.purpose {
            Purpose::Bench | Purpose::Batch => charted.wear(),
            Purpose::Part => &[],
        },
        screening: charted.screening(),
        every_start: args.purpose == Purpose::Part,
        sources: &gathered.sources,
        not_read: &not_read,
        files: &files,
        made: Some(&made),
        measuring: shared_measuring(&gathered.jobs),
    });
    terminal::out_to(output, &PAGE, |out| out.write_all(text.as_bytes()))?;
    if !quiet {
        answer::tell_copies(&gathered);
    }
    answer::tell_health(&gathered, quiet);
    let outcome = answer::tell_not_read(&gathered.not_read);
    answer::leave((gathered, charted));
    Ok(outcome)
}

/// Head of the page: the job's own information, or the titles of several jobs.
fn letterhead(jobs: &[JobRows]) -> JobInfo {
    match jobs {
        [] => JobInfo::default(),
        [only] => only.job.info.clone(),
        many => {
            let titles = many.iter().filter_map(|of| of.job.info.title.as_deref());
            JobInfo {
                title: Some(titles.collect::<Vec<_>>().join(" · ")).filter(|t| !t.is_empty()),
                ..JobInfo::default()
            }
        }
    }
}

/// The settings of `[measuring]`, if all jobs share them.
fn shared_measuring(jobs: &[JobRows]) -> Option<&Measuring> {
    let first = &jobs.first()?.job.measuring;
    let alike = jobs.iter().all(|of| of.job.measuring == *first);
    alike.then_some(first)
}

/// Charts and wear by the column asked for: all that is screened, or what other pages take of it.
enum Charted {
    All(Box<Screening>),
    /// Places of the starts during which a chart was out, and wear.
    Part(Vec<usize>, Vec<Wear>),
}

impl Charted {
    fn of(gathered: &StartSet, args: &ReportArgs) -> Result<Charted> {
        let options = ScreenOptions {
            by: vec![args.by.clone()],
            ..ScreenOptions::default()
        };
        match args.purpose {
            Purpose::Batch => Ok(Charted::All(Box::new(screen(gathered, &options)?))),
            Purpose::Bench | Purpose::Part => {
                let (off, wear) = tip_off_and_wear(gathered, &options)?;
                Ok(Charted::Part(off, wear))
            }
        }
    }

    fn screening(&self) -> Option<&Screening> {
        match self {
            Charted::All(screening) => Some(screening),
            Charted::Part(..) => None,
        }
    }

    /// Flags the starts during which a chart was out.
    fn mark(&self, rows: &mut [StartRow]) {
        match self {
            Charted::All(screening) => mark_tip_off(rows, &screening.charts),
            Charted::Part(off, _) => off.iter().for_each(|place| flag_tip_off(&mut rows[*place])),
        }
    }

    fn wear(&self) -> &[Wear] {
        match self {
            Charted::All(screening) => &screening.regrind,
            Charted::Part(_, wear) => wear,
        }
    }
}

/// The comparison; `None` if there is nothing to compare.
fn comparison(gathered: &StartSet, by: &str) -> Result<Option<Comparison>> {
    let mut groups = gathered.rows.iter().filter_map(|row| row.group(by));
    let first = groups.next();
    if by == "prep" && groups.all(|group| Some(group) == first) {
        return Ok(None);
    }
    let options = CompareOptions {
        by: by.to_owned(),
        ..CompareOptions::default()
    };
    compare(gathered, &options).map(Some)
}
