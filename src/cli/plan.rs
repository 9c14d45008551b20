//! `tipstrike plan`: how many starts, and in which order?

use std::path::PathBuf;

use crate::cli::{Outcome, answer, terminal};
use crate::error::{Error, ErrorKind, Result};
use crate::measuring::gather;
use crate::measuring::gather::GatherOptions;
use crate::report::text;
use crate::study::plan;
use crate::study::plan::StartsNeeded;

/// Plan how many starts a comparison or an acceptance needs, and a mixed order to strike them in.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike plan --pilot starts.csv --measure start_ms --see 20
  tipstrike plan --rates 2,10
  tipstrike plan --rough-under 2
  tipstrike plan --preps A,B --coupons L1,L2,L3 --starts 30 --sheet runs.csv

The order is drawn anew in every block of all preps on one coupon, so that heat, hand and coupon
favour none of them; the same seed gives the same order.")]
pub struct PlanArgs {
    /// Starts table or job of a pilot, whose spread tells how many starts it takes
    #[arg(long, value_name = "JOB|TABLE", requires = "see")]
    pilot: Option<PathBuf>,
    /// Spread of the measure (standard deviation), in place of a pilot
    #[arg(
        long,
        value_name = "NUMBER",
        requires = "see",
        conflicts_with = "pilot"
    )]
    spread: Option<f64>,
    /// Measure to plan for
    #[arg(long, default_value = "score", value_name = "NAME")]
    measure: String,
    /// Difference that must not be missed
    #[arg(long, value_name = "NUMBER")]
    see: Option<f64>,
    /// Two rough-start rates to be told apart, in percent
    #[arg(long, value_name = "PCT,PCT", value_delimiter = ',')]
    rates: Vec<f64>,
    /// Rough-start rate to stay under, in percent
    #[arg(long, value_name = "PCT")]
    rough_under: Option<f64>,
    /// Rough starts allowed while showing that
    #[arg(
        long,
        default_value_t = 0,
        value_name = "STARTS",
        requires = "rough_under",
        value_parser = clap::value_parser!(u64).range(..=plan::MOST_STARTS)
    )]
    allowed: u64,
    /// Confidence level
    #[arg(long, default_value_t = 0.95, value_name = "0.95", value_parser = answer::level)]
    level: f64,
    /// Preps to strike with
    #[arg(
        long,
        value_name = "NAME,…",
        value_delimiter = ',',
        requires = "coupons"
    )]
    preps: Vec<String>,
    /// Coupons to strike on
    #[arg(long, value_name = "NAME,…", value_delimiter = ',', requires = "preps")]
    coupons: Vec<String>,
    /// Starts of each prep [default: the number planned]
    #[arg(long, value_name = "STARTS", value_parser = clap::value_parser!(u64).range(1..=plan::MOST_STARTS))]
    starts: Option<u64>,
    /// Starts in one recording
    #[arg(long, default_value_t = 5, value_name = "STARTS", value_parser = clap::value_parser!(u64).range(1..=plan::MOST_STARTS))]
    per_run: u64,
    /// Seed of the order
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    seed: u64,
    /// Write the order as a run sheet to fill, - for stdout
    #[arg(long, value_name = "FILE", requires = "preps")]
    sheet: Option<PathBuf>,
}

/// Runs the verb.
///
/// # Errors
/// A question that is not asked whole, a pilot that cannot be used, a sheet that cannot be written.
pub fn run(args: PlanArgs) -> Result<Outcome> {
    let needed = args.needed()?;
    let look = terminal::look();
    let says = needed.iter().map(|n| text::wrapped(&n.says, look));
    let mut text: String = says.collect();
    if !args.preps.is_empty() {
        text += &order(&args, &needed)?;
    }
    if text.is_empty() {
        return Err(Error::new(ErrorKind::IncompleteQuestion, "plan", "no question is asked")
            .hint("Give --see with --pilot or --spread, --rates, --rough-under, or --preps with --coupons; see --help."));
    }
    if !answer::takes_stdout(args.sheet.as_deref()) {
        terminal::out(|out| out.write_all(text.as_bytes()))?;
    }
    Ok(Outcome::Done)
}

/// Draws the order, writes it where asked, and tells it.
fn order(args: &PlanArgs, needed: &[StartsNeeded]) -> Result<String> {
    let planned = needed.iter().map(|n| n.each).max();
    let each = args.starts.or(planned).ok_or_else(|| {
        Error::new(
            ErrorKind::IncompleteQuestion,
            "--starts",
            "not given, and no question says how many",
        )
        .hint("Give --starts 30, for example.")
    })?;
    let runs = plan::run_order(&args.preps, &args.coupons, each, args.per_run, args.seed)?;
    let sheet = plan::run_sheet(&runs);
    let Some(path) = &args.sheet else {
        return Ok(sheet);
    };
    if path.exists() {
        return Err(Error::new(
            ErrorKind::OutputExists,
            path.display().to_string(),
            "is there already",
        )
        .hint("Name a new file: a sheet that somebody filled in is not written over."));
    }
    terminal::out_to(path, |out| out.write_all(sheet.as_bytes()))?;
    Ok(format!(
        "{} runs of {} starts written to {}: fill in the rest as you strike.\n",
        runs.len(),
        args.per_run,
        text::plain(&path.display().to_string())
    ))
}

impl PlanArgs {
    /// An answer to each question asked.
    fn needed(&self) -> Result<Vec<StartsNeeded>> {
        let mut needed = Vec::new();
        if let (Some(path), Some(see)) = (&self.pilot, self.see) {
            let pilot = gather::gather(std::slice::from_ref(path), &GatherOptions::default())?;
            answer::tell_not_read(&pilot.not_read);
            needed.push(plan::from_pilot(
                &pilot.rows,
                &self.measure,
                see,
                self.level,
            )?);
        }
        if let (Some(spread), Some(see)) = (self.spread, self.see) {
            needed.push(plan::from_spread(spread, &self.measure, see, self.level)?);
        }
        match self.rates[..] {
            [] => {}
            [first, second] => {
                needed.push(plan::for_rates(first / 100.0, second / 100.0, self.level)?)
            }
            _ => {
                return Err(Error::new(
                    ErrorKind::IncompleteQuestion,
                    "--rates",
                    "expected two rates, such as 2,10",
                ));
            }
        }
        if let Some(limit) = self.rough_under {
            needed.push(plan::under_limit(limit / 100.0, self.allowed, self.level)?);
        }
        Ok(needed)
    }
}
