//! `tipstrike plan`: how many tips and starts, and in which order?

use std::path::PathBuf;

use crate::cli::outcome::Outcome;
use crate::cli::{answer, terminal};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::measuring::gather;
use crate::measuring::gather::GatherOptions;
use crate::output::Form;
use crate::report::{text, words};
use crate::study::plan;
use crate::study::plan::Asked;

/// Plan how many tips and starts a comparison or an acceptance needs, and a mixed order to strike them in.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike plan --pilot starts.csv --measure start_ms --see 20
  tipstrike plan --spread 25 --share 0.2 --measure start_ms --see 20
  tipstrike plan --rates 2,20
  tipstrike plan --rough-under 2
  tipstrike plan --preps A,B --coupons L1,L2,L3 --starts 30 --sheet runs.csv

The unit is the tip: how tips of one grind differ decides how many to grind. The order is drawn
anew for every round of all preps on one coupon, so that heat, hand and coupon favour none of
them; the same seed gives the same order.")]
pub struct PlanArgs {
    /// Starts table or job of a pilot, whose tips tell how much tips differ
    #[arg(long, value_name = "JOB|TABLE", requires = "see")]
    pilot: Option<PathBuf>,
    /// Spread of the measure from start to start (standard deviation), in place of a pilot
    #[arg(
        long,
        value_name = "NUMBER",
        requires = "see",
        conflicts_with = "pilot",
        value_parser = answer::number
    )]
    spread: Option<f64>,
    /// Share of the variance that lies between tips of one grind [default: 0.2]
    #[arg(long, value_name = "0.2", conflicts_with = "pilot", value_parser = answer::number)]
    share: Option<f64>,
    /// Measure to plan for
    #[arg(long, default_value = "score", value_name = "NAME")]
    measure: String,
    /// Difference that must not be missed
    #[arg(long, value_name = "NUMBER", value_parser = answer::number)]
    see: Option<f64>,
    /// Two rough-start rates to be told apart, in percent
    #[arg(long, value_name = "PCT,PCT", value_delimiter = ',')]
    rates: Vec<f64>,
    /// Rough-start rate to stay under, in percent
    #[arg(long, value_name = "PCT", value_parser = answer::number)]
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
    /// Plan to compare half way, too, and to stop there if that is enough
    #[arg(long)]
    two_stage: bool,
    /// Preps to strike with, two to five
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
    /// Starts on one tip, in one recording
    #[arg(long, default_value_t = 5, value_name = "STARTS", value_parser = clap::value_parser!(u64).range(1..=plan::MOST_STARTS))]
    per_tip: u64,
    /// Seed of the order
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    seed: u64,
    /// Write the order as a run sheet to fill, - for stdout
    #[arg(long, value_name = "FILE", requires = "preps")]
    sheet: Option<PathBuf>,
}

/// What a question needs, in words, and in starts of each prep.
struct Needed {
    says: String,
    starts: u64,
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

/// A run sheet to fill in, which is never replaced.
const SHEET: Form = Form {
    name: "an empty run sheet",
    is_own: |_| false,
};

/// Draws the order, writes it where asked, and tells it.
fn order(args: &PlanArgs, needed: &[Needed]) -> Result<String> {
    let planned = needed.iter().map(|n| n.starts).max();
    let starts = args.starts.or(planned).ok_or_else(|| {
        Error::new(
            ErrorKind::IncompleteQuestion,
            Place::parameter("starts"),
            "not given, and no question says how many",
        )
        .hint("Give --starts 30, for example")
    })?;
    let stages = if args.two_stage { 2 } else { 1 };
    let runs = plan::run_order(
        &args.preps,
        &args.coupons,
        starts,
        args.per_tip,
        stages,
        args.seed,
    )?;
    let sheet = plan::run_sheet(&runs);
    let Some(path) = &args.sheet else {
        return Ok(sheet);
    };
    if path.is_file() {
        return Err(Error::new(
            ErrorKind::OutputExists,
            path.display().to_string(),
            "is there already",
        )
        .hint("Name a new file: a sheet that somebody filled in is not written over."));
    }
    terminal::out_to(path, &SHEET, |out| out.write_all(sheet.as_bytes()))?;
    Ok(format!(
        "{} tips to grind, {starts} starts of each prep, written to {} in the order to strike them: fill in the rest as you go.\n",
        runs.len(),
        text::plain(&path.display().to_string())
    ))
}

impl PlanArgs {
    fn asked(&self) -> Asked {
        Asked {
            preps: self.preps.len().max(2) as u64,
            per_tip: self.per_tip,
            level: self.level,
            two_stage: self.two_stage,
        }
    }

    /// An answer to each question asked.
    fn needed(&self) -> Result<Vec<Needed>> {
        let mut needed: Vec<Needed> = self.shift()?.into_iter().collect();
        match self.rates[..] {
            [] => {}
            [first, second] => {
                let (first, second) = (first / 100.0, second / 100.0);
                let found = plan::for_rates(first, second, self.share, self.asked())?;
                needed.push(Needed {
                    says: words::plan::rates(&found),
                    starts: found.tips * self.per_tip,
                });
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
            let found = plan::under_limit(limit / 100.0, self.allowed, self.level)?;
            needed.push(Needed {
                says: words::plan::limit(&found),
                starts: found.starts,
            });
        }
        Ok(needed)
    }

    /// The difference to see, from a pilot or a stated spread.
    fn shift(&self) -> Result<Option<Needed>> {
        let Some(see) = self.see else {
            return Ok(None);
        };
        let (measure, asked) = (&self.measure, self.asked());
        let found = match (&self.pilot, self.spread) {
            (Some(path), _) => {
                let pilot = gather::gather(std::slice::from_ref(path), &GatherOptions::default())?;
                answer::tell_not_read(&pilot.not_read);
                plan::from_pilot(&pilot.rows, measure, see, asked)?
            }
            (None, Some(spread)) => plan::from_spread(spread, self.share, measure, see, asked)?,
            (None, None) => return Ok(None),
        };
        Ok(Some(Needed {
            says: words::plan::shift(&found),
            starts: found.tips * self.per_tip,
        }))
    }
}
