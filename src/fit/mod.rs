//! Does this prep suit this job, by the tables and by common practice? Asked before anything is welded.

mod common_practice;
mod current;
pub mod tables;
mod tip;

pub use common_practice::CLEANING_END_PCT;

use serde::Serialize;

use crate::job::file::Job;
use crate::job::length::Length;
use crate::job::prep::Prep;
use crate::job::run::{Process, Run, StartMethod};

/// How much a finding asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Every source is against it: change it.
    Change,
    /// A source is against it, or they disagree: look at it.
    Look,
    /// Good to know.
    Note,
}

impl Level {
    /// The word used in every output.
    pub fn word(self) -> &'static str {
        match self {
            Level::Change => "change",
            Level::Look => "look",
            Level::Note => "note",
        }
    }
}

/// What was found, why it matters, who says so, and what to try.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remark {
    /// How much it asks for.
    pub level: Level,
    /// What it is about, one word.
    pub about: &'static str,
    /// What was found, with numbers and units.
    pub what: String,
    /// Why it matters.
    pub why: String,
    /// A document and its table, or "common practice".
    pub source: String,
    /// What to try.
    #[serde(rename = "try")]
    pub to_try: String,
}

/// A remark on a prep, and the rows of the sheet that it holds for.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FitFinding {
    /// Name of the prep.
    pub prep: String,
    /// Lines of the run sheet; empty where it holds for the prep whatever is welded.
    pub rows: Vec<u64>,
    /// The remark.
    #[serde(flatten)]
    pub remark: Remark,
}

/// What a row of the sheet asks of its prep.
struct Case {
    process: Process,
    set_a: Option<f64>,
    set_en_pct: Option<f64>,
    start_method: Option<StartMethod>,
    stickout: Option<Length>,
}

impl Case {
    fn of(run: &Run) -> Case {
        Case {
            process: run.process.unwrap_or_default(),
            set_a: run.set_a,
            set_en_pct: run.set_en_pct,
            start_method: run.start_method,
            stickout: run.stickout,
        }
    }
}

type PrepRule = fn(&Prep) -> Option<Remark>;
type CaseRule = fn(&Prep, &Case) -> Option<Remark>;

/// Rules that ask only how the tip was made ready.
const PREP_RULES: [PrepRule; 6] = [
    common_practice::thorium,
    common_practice::unspecified_class,
    common_practice::marks,
    tip::grind_to_set,
    tip::flat_over_half,
    common_practice::not_written_down,
];

/// Rules that ask what it is to weld, too.
const CASE_RULES: [CaseRule; 11] = [
    current::amps_for_electrode,
    current::amps_missing,
    tip::amps_for_taper,
    tip::needle_near_the_top,
    tip::blunt_for_low_amps,
    tip::ball_on_dc,
    tip::point_on_ac,
    common_practice::class_for_process,
    common_practice::balance,
    common_practice::start_method,
    common_practice::stickout,
];

/// Every finding of a job, prep by prep, the ones that ask for most first.
pub fn fit(job: &Job) -> Vec<FitFinding> {
    let mut findings = Vec::new();
    for (name, prep) in &job.preps {
        let runs: Vec<&Run> = job.runs.iter().filter(|run| run.prep == *name).collect();
        let mut of_prep = fit_of(name, prep, &runs);
        of_prep.sort_by_key(|finding| finding.remark.level);
        findings.extend(of_prep);
    }
    findings
}

fn fit_of(name: &str, prep: &Prep, runs: &[&Run]) -> Vec<FitFinding> {
    let mut findings: Vec<FitFinding> = Vec::new();
    let with = |remark, rows| FitFinding {
        prep: name.to_owned(),
        rows,
        remark,
    };
    findings.extend(
        PREP_RULES
            .iter()
            .filter_map(|rule| rule(prep))
            .map(|remark| with(remark, Vec::new())),
    );
    if runs.is_empty() {
        findings.push(with(common_practice::no_runs(), Vec::new()));
    }
    for run in runs {
        let case = Case::of(run);
        for remark in CASE_RULES.iter().filter_map(|rule| rule(prep, &case)) {
            // Runs that ask the same, or differ in what the rule does not ask about, share a finding.
            match findings.iter_mut().find(|f| f.remark == remark) {
                Some(known) => known.rows.push(run.line),
                None => findings.push(with(remark, vec![run.line])),
            }
        }
    }
    findings
}

/// A range of amps in words.
fn range(amps: (f64, f64)) -> String {
    match amps.0 {
        from if from > 0.0 => format!("{from:.0}–{:.0} A", amps.1),
        _ => format!("up to {:.0} A", amps.1),
    }
}

fn holds(amps: (f64, f64), value: f64) -> bool {
    (amps.0..=amps.1).contains(&value)
}
