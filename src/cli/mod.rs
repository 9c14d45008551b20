//! The command line, with one file per verb; nothing else uses clap, stdout or progress bars.

mod answer;
mod aside;
mod ask;
mod begin;
mod compare;
mod demo;
mod filed;
mod incoming;
mod inspect;
mod live;
#[cfg(not(target_family = "wasm"))]
mod manual;
mod measure;
mod outcome;
mod picture;
mod plan;
mod prep;
mod progress;
mod rehearse;
mod report;
mod screen;
mod streamed;
#[cfg(not(target_family = "wasm"))]
mod strike;
pub(crate) mod terminal;
mod wiring;

pub use outcome::Outcome;

use std::io;
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

#[cfg(not(target_family = "wasm"))]
use clap::CommandFactory;
use clap::{Parser, Subcommand};

use crate::error::{Error, Result};

/// Exit code of a wrong call or input.
const WRONG_INPUT: u8 = 2;

/// Arc-start quality analyzer for recorded TIG (GTAW) welding current.
#[derive(Debug, Parser)]
#[command(name = "tipstrike", version, about)]
struct Cli {
    /// Say nothing on stderr but errors: no progress, no word on the health of the recordings
    #[arg(long, global = true)]
    quiet: bool,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    Begin(begin::BeginArgs),
    Inspect(inspect::InspectArgs),
    Prep(prep::PrepArgs),
    Measure(measure::MeasureArgs),
    Report(report::ReportArgs),
    Demo(demo::DemoArgs),
    Compare(compare::CompareArgs),
    Screen(screen::ScreenArgs),
    Aside(aside::AsideArgs),
    Plan(plan::PlanArgs),
    #[cfg(not(target_family = "wasm"))]
    Strike(strike::StrikeArgs),
    Rehearse(rehearse::RehearseArgs),
    #[cfg(not(target_family = "wasm"))]
    Manual(manual::ManualArgs),
}

/// Parses the command line, runs the verb, prints an error, returns the exit code.
pub fn main() -> ExitCode {
    let done = match Cli::try_parse() {
        Ok(cli) => run(cli.verb, cli.quiet),
        Err(help) if !help.use_stderr() => printed(&help),
        Err(wrong_call) => {
            // Where nobody reads stderr, the exit code says it.
            let _ = wrong_call.print();
            return ExitCode::from(WRONG_INPUT);
        }
    };
    match done {
        Ok(outcome) => ExitCode::from(outcome as u8),
        Err(error) if terminal::nobody_reads(&error) => ExitCode::from(WRONG_INPUT),
        Err(error) => {
            // An error may quote a file: escape control characters, and print one line per fault.
            for line in told(&error).lines() {
                terminal::say(&format!("tipstrike: {line}"));
            }
            ExitCode::from(WRONG_INPUT)
        }
    }
}

/// Prints help or version.
fn printed(help: &clap::Error) -> Result<Outcome> {
    let done = help.print().and_then(|()| io::stdout().flush());
    done.map_err(|e| Error::io(Path::new("stdout"), "write", e))?;
    Ok(Outcome::Done)
}

/// Phrases an error for the command line, where a parameter of the library is an option.
fn told(error: &Error) -> String {
    if !error.parts().is_empty() {
        let (parts, rest) = error.first_parts();
        let lines = parts.iter().map(told).chain(rest);
        return lines.collect::<Vec<_>>().join("\n");
    }
    let place = error.place();
    let Some(parameter) = place.parameter else {
        return error.to_string();
    };
    let value = place.value.as_ref().map(|value| format!(" {value}"));
    let way_out = [error.way_out(), way_out(parameter)];
    let way_out: String = way_out
        .into_iter()
        .flatten()
        .map(|text| format!(". {}", text.trim_end_matches('.')))
        .collect();
    format!(
        "--{}{}: {}{way_out}",
        parameter.replace('_', "-"),
        value.unwrap_or_default(),
        error.problem()
    )
}

/// Adds the way out that only the command line knows.
fn way_out(parameter: &str) -> Option<&'static str> {
    match parameter {
        "known" => Some("Repeat --known for each load"),
        "prep" => Some("--job names that file"),
        _ => None,
    }
}

fn run(verb: Verb, quiet: bool) -> Result<Outcome> {
    match verb {
        Verb::Begin(args) => begin::run(args),
        Verb::Inspect(args) => inspect::run(args),
        Verb::Prep(args) => prep::run(args),
        Verb::Measure(args) => measure::run(args, quiet),
        Verb::Report(args) => report::run(args, quiet),
        Verb::Demo(args) => demo::run(args),
        Verb::Compare(args) => compare::run(args, quiet),
        Verb::Screen(args) => screen::run(args, quiet),
        Verb::Aside(args) => aside::run(args, quiet),
        Verb::Plan(args) => plan::run(args),
        #[cfg(not(target_family = "wasm"))]
        Verb::Strike(args) => strike::run(args, quiet),
        Verb::Rehearse(args) => rehearse::run(args, quiet),
        #[cfg(not(target_family = "wasm"))]
        Verb::Manual(args) => manual::run(args, Cli::command()),
    }
}
