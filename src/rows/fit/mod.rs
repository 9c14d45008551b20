//! Does this prep suit this job, by the tables and by common practice? Asked before anything is welded.
//!
//! The rules ([`judge`]) find concerns: kinds with figures. `advise` tries ways out against the
//! same rules. `words` makes the sentences, and nothing reads them again.

mod advice;
mod between;
mod case;
mod common_practice;
mod concern;
mod current;
mod edit;
mod finding;
mod gas;
mod judge;
mod range;
mod remark;
mod seen;
pub mod tables;
mod tip;
mod words;
mod work;

pub use concern::{Basis, Concern, Level};
pub use edit::Edit;
pub use finding::{FitFinding, Kind};
pub use judge::judge;
pub use remark::Remark;
pub use seen::{Cause, Seen};

use crate::fit::advice::Before;
use crate::job::file::Job;
use crate::job::prep::Prep;
use crate::job::run::Run;

/// Every finding of a job, prep by prep, the ones that ask for most first; then what lies between the preps.
pub fn fit(job: &Job) -> Vec<FitFinding> {
    let mut findings = Vec::new();
    for (name, prep) in &job.preps {
        let runs: Vec<&Run> = job.runs.iter().filter(|run| run.prep == *name).collect();
        let mut of_prep = fit_of(name, prep, &runs);
        of_prep.sort_by_key(|finding| finding.level());
        findings.extend(of_prep);
    }
    findings.extend(between::between(job));
    findings
}

fn fit_of(name: &str, prep: &Prep, runs: &[&Run]) -> Vec<FitFinding> {
    let nothing = Run::default();
    let asked = if runs.is_empty() {
        &[&nothing][..]
    } else {
        runs
    };
    let rows: Vec<Before> = asked
        .iter()
        .map(|run| Before {
            run,
            concerns: judge(prep, run),
        })
        .collect();
    let mut kinds: Vec<(Concern, Vec<&Before>)> = Vec::new();
    for row in &rows {
        let concerns = row.concerns.iter();
        for concern in concerns.filter(|c| c.of_prep() || !runs.is_empty()) {
            // Rows that ask the same, or differ in what the rule does not ask about, share a finding.
            match kinds.iter_mut().find(|(known, _)| known == concern) {
                Some((_, of_kind)) => of_kind.push(row),
                None => kinds.push((concern.clone(), vec![row])),
            }
        }
    }
    if runs.is_empty() {
        kinds.push((Concern::NoRuns, Vec::new()));
    }
    let finding = |(concern, of_kind): (Concern, Vec<&Before>)| {
        let ways = advice::advise(&concern, prep, &of_kind);
        let lines = of_kind.iter().map(|row| row.run.line);
        FitFinding {
            prep: name.to_owned(),
            rows: if concern.of_prep() {
                Vec::new()
            } else {
                lines.collect()
            },
            kind: Kind::Fit(concern, ways),
        }
    };
    kinds.into_iter().map(finding).collect()
}
