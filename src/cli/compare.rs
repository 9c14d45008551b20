//! `tipstrike compare`: which of these preps starts better?

use std::collections::BTreeMap;
use std::path::PathBuf;

use crate::cli::outcome::Outcome;
use crate::cli::{answer, progress, terminal};
use crate::digits::given;
use crate::error::{Error, ErrorKind, Result};
use crate::measure::Better;
use crate::measuring::gather::GatherOptions;
use crate::measuring::table::Wanted;
use crate::output::Form;
use crate::report::text;
use crate::report::words::TellComparison;
use crate::study::{CompareOptions, Which, compare};

/// Compare two or more preps, coupon by coupon: which starts better, and are there enough starts to say so?
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike compare job.toml
  tipstrike compare starts.csv --by operator --measure start_ms --margin start_ms=20

The first measure answers the question; tips, not starts, speak for a grind. \"No difference\" is
only said where the interval of the difference lies inside the margin worth having
(docs/statistics.md).")]
pub struct CompareArgs {
    /// Job files or their folders, starts tables, or folders of recordings
    #[arg(required = true, value_name = "JOB|TABLE")]
    inputs: Vec<PathBuf>,
    /// Group by: prep, coupon, recording, or a column of the run sheet or prep (class, operator, …)
    #[arg(long, default_value = "prep", value_name = "COLUMN")]
    by: String,
    /// Measure or numeric sheet column; may be repeated, the first answers [default: score start_ms wander_v]
    #[arg(long, value_name = "NAME")]
    measure: Vec<String>,
    /// Difference worth having, such as start_ms=20; may be repeated
    #[arg(long, value_name = "NAME=VALUE", value_parser = margin)]
    margin: Vec<(String, f64)>,
    /// Which way a sheet column of your own is better, such as bead_mm=higher [default: lower]
    #[arg(long, value_name = "NAME=SIDE", value_parser = side)]
    better: Vec<(String, Better)>,
    /// Confidence level of the intervals
    #[arg(long, default_value_t = 0.95, value_name = "0.95", value_parser = answer::level)]
    level: f64,
    /// Only starts on a cold tip, or only restarts
    #[arg(long, value_name = "cold|restarts", value_parser = ["cold", "restarts"])]
    only: Option<String>,
    /// Rest from which a tip counts as cold, s
    #[arg(long, default_value_t = 30.0, value_name = "SECONDS", value_parser = seconds)]
    cold_after: f64,
    /// These starts extend a set that was compared before and was not enough: allow for that look
    #[arg(long, conflicts_with = "while_striking")]
    extended: bool,
    /// Look after every start and stop when it is clear: an answer by score and rough starts that this does not spoil
    #[arg(long)]
    while_striking: bool,
    /// Measure every recording anew, and keep nothing for the next time
    #[arg(long)]
    anew: bool,
    /// Write the answer as JSON to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

/// The answer as JSON.
const JSON: Form = Form {
    name: "an answer of compare",
    is_own: |head| head.starts_with(b"{\n  \"by\": \"") && answer::has(head, "\n  \"answers\": \""),
};

/// Runs the verb.
///
/// # Errors
/// Inputs that cannot be used, a group or measure that no start has, an output that cannot be written.
pub fn run(args: CompareArgs, quiet: bool) -> Result<Outcome> {
    let cache = answer::kept(args.anew);
    let asked = args.options();
    let reads = asked.reads();
    let options = GatherOptions {
        cache: cache.as_ref(),
        wanted: Wanted::Measures(&reads),
        ..GatherOptions::default()
    };
    let gathered = progress::gather(&args.inputs, &options, quiet)?;
    answer::spare_inputs(&args.inputs, &gathered, &[(args.json.as_deref(), &JSON)])?;
    if gathered.rows.is_empty() {
        answer::tell_not_read(&gathered.not_read);
        return Err(Error::new(
            ErrorKind::NoStarts,
            "compare",
            "there is no start to compare",
        )
        .hint("tipstrike inspect shows what is in a recording"));
    }
    if !quiet {
        answer::tell_copies(&gathered);
    }
    // Before the answer: what is said here may be why there is none.
    answer::tell_health(&gathered, quiet);
    let comparison = compare(&gathered, &asked)?;
    if let Some(path) = &args.json {
        answer::json(path, &JSON, &TellComparison::new(&comparison))?;
    }
    if !answer::takes_stdout(args.json.as_deref()) {
        let text = text::comparison(&comparison, terminal::look());
        terminal::out(|out| out.write_all(text.as_bytes()))?;
    }
    let outcome = answer::tell_not_read(&gathered.not_read);
    answer::leave(gathered);
    Ok(outcome)
}

fn margin(text: &str) -> Result<(String, f64), String> {
    let (name, value) = answer::named_number(text)?;
    if value > 0.0 {
        Ok((name, value))
    } else {
        Err(format!("a margin is more than 0, not {}", given(value)))
    }
}

fn seconds(text: &str) -> Result<f64, String> {
    match answer::number(text) {
        Ok(seconds) if (0.0..=1e6).contains(&seconds) => Ok(seconds),
        _ => Err("expected seconds from 0 to a million".into()),
    }
}

fn side(text: &str) -> Result<(String, Better), String> {
    let (name, side) = answer::named(text)?;
    match side.as_str() {
        "lower" => Ok((name, Better::Lower)),
        "higher" => Ok((name, Better::Higher)),
        _ => Err(format!("{side} is neither lower nor higher")),
    }
}

impl CompareArgs {
    fn options(&self) -> CompareOptions {
        let standard = CompareOptions::default();
        CompareOptions {
            by: self.by.clone(),
            level: self.level,
            measures: if self.measure.is_empty() {
                standard.measures
            } else {
                self.measure.clone()
            },
            margins: self.margin.iter().cloned().collect(),
            better: self.better.iter().cloned().collect::<BTreeMap<_, _>>(),
            which: match self.only.as_deref() {
                Some("cold") => Which::Cold(self.cold_after),
                Some(_) => Which::Restarts(self.cold_after),
                None => Which::All,
            },
            extended: self.extended,
            while_striking: self.while_striking,
        }
    }
}
