//! `tipstrike rehearse`: what could this logger show?

use std::path::PathBuf;

use crate::cli::outcome::Outcome;
use crate::cli::{answer, progress, terminal};
use crate::error::Result;
use crate::measuring::gather::GatherOptions;
use crate::output::Form;
use crate::rehearsal::{RehearseOptions, rehearse};
use crate::report::{figure, text};

/// Most starts that are made, most of each prep that a plan has.
const MOST: u64 = 100_000;

/// Lay made starts of known truth onto a recording's own rest and measure them: what could this logger show?
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  tipstrike rehearse job.toml --tips 8 --per-tip 5 --json rehearsal.json
  tipstrike rehearse lid-17.wav --job job.toml --starts 50 --figure rehearsal.svg

Noise, hum, zero, sparks and ripple are the recordings' own; delays, tries, dropouts and wander
are made. The file of --json, named in the job file by [measuring] rehearsed, then tells the
uncertainty of start times and wander (docs/rehearse.md). The same seed gives the same answer.")]
pub struct RehearseArgs {
    /// Job file or its folder, or recordings
    #[arg(required = true, value_name = "JOB|FILE")]
    inputs: Vec<PathBuf>,
    /// Job file whose logger and measuring serve recordings named by themselves
    #[arg(long, value_name = "JOB.TOML")]
    job: Option<PathBuf>,
    /// Starts to make
    #[arg(long, default_value_t = 200, value_name = "STARTS", value_parser = clap::value_parser!(u64).range(1..=MOST))]
    starts: u64,
    /// Tips of each prep to answer for [default: those of the job, else 5]
    #[arg(long, value_name = "TIPS", value_parser = clap::value_parser!(u64).range(2..=MOST))]
    tips: Option<u64>,
    /// Starts on each tip [default: those of the job, else 4]
    #[arg(long, value_name = "STARTS", value_parser = clap::value_parser!(u64).range(1..=MOST))]
    per_tip: Option<u64>,
    /// Current of the made starts, A [default: that of the recordings]
    #[arg(long, value_name = "AMPS", value_parser = amps)]
    amps: Option<f64>,
    /// Confidence level of the intervals
    #[arg(long, default_value_t = 0.95, value_name = "0.95", value_parser = answer::level)]
    level: f64,
    /// Seed of everything drawn
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    seed: u64,
    /// Measure every recording anew, and keep nothing for the next time
    #[arg(long)]
    anew: bool,
    /// Write the answer as JSON to this file, - for stdout
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
    /// Write a figure (SVG) of truth against measured to this file
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,
}

/// The answer as JSON.
const JSON: Form = Form {
    name: "an answer of rehearse",
    is_own: |head| head.starts_with(b"{\n  \"rehearsal\": "),
};

/// Runs the verb.
///
/// # Errors
/// Inputs that cannot be used, recordings without rest, an output that cannot be written.
pub fn run(args: RehearseArgs, quiet: bool) -> Result<Outcome> {
    let cache = answer::kept(args.anew);
    let options = GatherOptions {
        cache: cache.as_ref(),
        job: args.job.as_deref(),
        ..GatherOptions::default()
    };
    let gathered = progress::gather(&args.inputs, &options, quiet)?;
    let outputs = [args.json.as_deref(), args.figure.as_deref()];
    answer::one_to_stdout(&outputs)?;
    answer::spare_inputs(
        &args.inputs,
        &gathered,
        &[(outputs[0], &JSON), (outputs[1], &figure::SVG)],
    )?;
    let not_read = answer::tell_not_read(&gathered.not_read);
    let told = rehearse(&gathered, &args.options())?;
    if let Some(path) = &args.json {
        answer::json(path, &JSON, &told)?;
    }
    if let Some(path) = &args.figure {
        let drawn = figure::alone(&figure::agreement(&told));
        terminal::out_to(path, &figure::SVG, |out| out.write_all(drawn.as_bytes()))?;
    }
    if !outputs.into_iter().any(answer::takes_stdout) {
        let text = text::rehearsal(&told, terminal::look());
        terminal::out(|out| out.write_all(text.as_bytes()))?;
    }
    Ok(not_read)
}

fn amps(text: &str) -> Result<f64, String> {
    match answer::number(text) {
        Ok(amps) if (1.0..=2000.0).contains(&amps) => Ok(amps),
        _ => Err("expected amps from 1 to 2000".into()),
    }
}

impl RehearseArgs {
    fn options(&self) -> RehearseOptions {
        RehearseOptions {
            starts: self.starts as usize,
            seed: self.seed,
            level: self.level,
            tips: self.tips,
            per_tip: self.per_tip,
            amps: self.amps,
            ..RehearseOptions::default()
        }
    }
}
