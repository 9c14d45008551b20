//! `tipstrike begin`: from a folder of recordings to a job.

use std::path::{Path, PathBuf};
use std::str::FromStr;

use crate::cli::outcome::Outcome;
use crate::cli::wiring::WiringArgs;
use crate::cli::{answer, ask, terminal};
use crate::error::{Error, ErrorKind, Result};
use crate::format::counted;
use crate::job::{Draft, DraftRun, JOB_FILE, Job, JobInfo, SHEET_FILE, Sign};
use crate::measuring::begin::{self, Found};
use crate::output;
use crate::output::Form;
use crate::recording::Inspection;
use crate::report::text;
use crate::report::text::plain;
use crate::study::plan;

/// Mains frequency where nothing tells it, Hz.
const MAINS_HZ: f64 = 50.0;

/// A new file: nothing is written over.
const NEW: Form = Form {
    name: "a file that tipstrike begin wrote",
    is_own: |_| false,
};

/// Begin a job: look into the recordings of a folder, ask what they cannot tell, write job.toml and runs.csv
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike begin my-lids --shunt \"200 A / 60 mV\" --gain 50 --volts-at-full-scale 5 --divider 20
  tipstrike begin my-lids --known \"80 A from 0.5 s to 1 s\" --volts-at-full-scale 120
  tipstrike begin my-lids --amps-at-full-scale 200 --volts-at-full-scale 120 --tips 6 --coupons L1

On a terminal, `tipstrike begin my-lids` asks for what no option says. With --coupons and --tips it
plans what to strike; record a test arc first, so that the wiring can be seen. Nothing is ever
written over: a job.toml that is there stays, and only runs.csv is written.

Caution: high-frequency ignition is kilovolts and open-circuit voltage can kill. Connect with the
power off, through isolated and fused inputs rated for it.")]
pub struct BeginArgs {
    /// Folder with the recordings
    folder: PathBuf,
    /// What is tried, for the head of the report
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    #[command(flatten)]
    wiring: WiringArgs,
    /// Names of the preps [default: A,B]
    #[arg(long, value_name = "NAME,…", value_delimiter = ',')]
    preps: Vec<String>,
    /// Coupons to strike on, to plan the strikes
    #[arg(long, value_name = "NAME,…", value_delimiter = ',', requires = "tips")]
    coupons: Vec<String>,
    /// Tips to grind of each prep, to plan the strikes
    #[arg(long, value_name = "TIPS", requires = "coupons", value_parser = clap::value_parser!(u64).range(1..=plan::MOST_STARTS))]
    tips: Option<u64>,
    /// Starts on each tip, in one recording
    #[arg(long, default_value_t = 4, value_name = "STARTS", requires = "tips", value_parser = clap::value_parser!(u64).range(1..=plan::MOST_STARTS))]
    per_tip: u64,
}

/// Runs the verb.
///
/// # Errors
/// A job that is there already, no recording to learn the wiring from, a question that nobody answers.
pub fn run(args: BeginArgs) -> Result<Outcome> {
    let found = begin::look(&args.folder)?;
    let Some((name, model)) = found.model() else {
        answer::tell_not_read(&found.not_read);
        let problem = "there is no recording that can be read";
        let folder = args.folder.display().to_string();
        return Err(Error::new(ErrorKind::NoRecordings, folder, problem)
            .hint("Record a test arc into it first: it shows how the logger is wired"));
    };
    tell_seen(&found, name);
    let draft = draft(&args, &found, name, model)?;
    let sheet = match args.tips {
        Some(tips) => planned(&args, &draft, tips, &found)?,
        None => draft.run_sheet(),
    };
    write(&args.folder, &draft, &sheet)?;
    tell_next(&args, &draft)?;
    Ok(answer::tell_not_read(&found.not_read))
}

/// The job as far as recordings, options and answers tell it; a job file that is there already stays and tells it all.
fn draft(args: &BeginArgs, found: &Found, name: &str, model: &Inspection) -> Result<Draft> {
    if args.folder.join(JOB_FILE).exists() {
        let job = Job::read_rules(&args.folder)?;
        let preps: Vec<String> = job.preps.into_keys().collect();
        return Ok(Draft {
            runs: runs(found, &preps),
            preps,
            ..Draft::default()
        });
    }
    let mut guessed = Vec::new();
    let mut logger = args.wiring.logger(&args.folder.join(name), model)?;
    logger.mains_hz = Some(mains(args, found, &mut guessed)?);
    logger.electrode_negative = sign(args, found, &mut guessed);
    let preps = preps(args)?;
    Ok(Draft {
        info: JobInfo {
            title: args.title.clone(),
            ..JobInfo::default()
        },
        runs: runs(found, &preps),
        logger,
        guessed,
        preps,
    })
}

/// What was seen, before anything is asked.
fn tell_seen(found: &Found, model: &str) {
    let count = counted(found.recordings.len(), "recording");
    terminal::say(&format!("{count}; wired as {model} shows it."));
    for name in found.wired_otherwise() {
        terminal::say(&format!(
            "{name} has other channels: begin a job of its own for it, or take its row out"
        ));
    }
}

fn mains(
    args: &BeginArgs,
    found: &Found,
    guessed: &mut Vec<(&'static str, String)>,
) -> Result<f64> {
    if let Some(hz) = args.wiring.mains_hz {
        return Ok(hz);
    }
    let (hz, from) = match found.mains_hz() {
        Some(hz) => (hz, "guessed from the hum"),
        None => (MAINS_HZ, "guessed: nothing shows it; 60 in the Americas"),
    };
    if ask::can_ask() {
        return ask::value("Mains frequency, Hz", &hz.to_string());
    }
    guessed.push(("mains_hz", from.to_owned()));
    Ok(hz)
}

fn sign(args: &BeginArgs, found: &Found, guessed: &mut Vec<(&'static str, String)>) -> Sign {
    if let Some(sign) = args.wiring.electrode_negative {
        return sign.into();
    }
    let from = match found.electrode_negative() {
        Some(_) => "guessed: right for DC with the electrode negative",
        None => "guessed: nothing shows it",
    };
    guessed.push(("electrode_negative", from.to_owned()));
    found.electrode_negative().unwrap_or_default()
}

fn preps(args: &BeginArgs) -> Result<Vec<String>> {
    if !args.preps.is_empty() {
        return Ok(args.preps.clone());
    }
    let names = match ask::can_ask() {
        true => ask::value::<Names>("Names of the preps", "A,B")?,
        false => Names::from_str("A,B").expect("names"),
    };
    Ok(names.0)
}

/// Names with commas between them.
struct Names(Vec<String>);

impl FromStr for Names {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Names, &'static str> {
        let names: Vec<String> = text.split(',').map(|name| name.trim().to_owned()).collect();
        match names.iter().any(String::is_empty) {
            true => Err("expected names with commas between them, such as A,B"),
            false => Ok(Names(names)),
        }
    }
}

fn runs(found: &Found, preps: &[String]) -> Vec<DraftRun> {
    let names = found.recordings.iter().map(|(name, _)| name);
    names.map(|name| begin::run_of(name, preps)).collect()
}

/// The sheet of a plan, its recordings named like those of this logger.
fn planned(args: &BeginArgs, draft: &Draft, tips: u64, found: &Found) -> Result<String> {
    let mut runs = plan::run_order(
        &draft.preps,
        &args.coupons,
        tips * args.per_tip,
        args.per_tip,
        1,
        1,
    )?;
    let is_table = found
        .model()
        .is_some_and(|(_, seen)| seen.channels.iter().any(|c| c.title.is_some()));
    if is_table {
        for run in &mut runs {
            run.file = run.file.replace(".wav", ".csv");
        }
    }
    Ok(plan::run_sheet(&runs))
}

/// Writes the job file before the sheet: where the sheet is, the job is whole.
fn write(folder: &Path, draft: &Draft, sheet: &str) -> Result<()> {
    let write = |name: &str, text: &str| {
        output::whole(&folder.join(name), &NEW, |out| {
            out.write_all(text.as_bytes())
        })
    };
    if !folder.join(JOB_FILE).exists() {
        write(JOB_FILE, &draft.job_file())?;
    }
    write(SHEET_FILE, sheet)
}

fn tell_next(args: &BeginArgs, draft: &Draft) -> Result<()> {
    let folder = plain(&args.folder.display().to_string());
    let mut says = format!("{JOB_FILE} and {SHEET_FILE} are in {folder}. ");
    if !draft.guessed.is_empty() {
        let keys: Vec<&str> = draft.guessed.iter().map(|(key, _)| *key).collect();
        says += &format!("Guessed, look at it again: {}. ", keys.join(", "));
    }
    let open = draft.runs.iter().filter(|run| run.prep.is_empty()).count();
    if args.tips.is_some() {
        says += &format!(
            "{SHEET_FILE} says what to strike, in order, and the name of each recording. "
        );
    } else if open > 0 {
        says += &format!(
            "Fill in the prep of {} in {SHEET_FILE}. ",
            counted(open, "row")
        );
    }
    let look = terminal::look();
    let mut all = text::wrapped(&says, look);
    all += &text::wrapped(
        &format!("Write how each tip was prepared into {JOB_FILE}; then: tipstrike prep {folder}"),
        look,
    );
    terminal::out(|out| out.write_all(all.as_bytes()))
}
