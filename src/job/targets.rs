//! Targets: what a good and a poor start of this prep and job look like, and who said so.

use serde::Serialize;

use crate::error::{Error, ErrorKind, Result};
use crate::job::builtin;
use crate::job::section::Section;
use crate::job::target_set::{ROUGH_ATTEMPTS, TARGET_MEASURES, Target, TargetSet};
use crate::measure::Measure;

/// Every target that one start is held against.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Targets {
    /// One entry a measure, in the order of the starts table.
    pub list: Vec<Target>,
    /// More attempts than this make a start rough.
    pub rough_attempts: u32,
}

impl Targets {
    /// The target of a measure.
    pub fn get(&self, measure: Measure) -> Option<&Target> {
        self.list.iter().find(|t| t.measure == measure)
    }
}

/// Lays the prep's targets over the job's over the built-in ones.
pub fn merge(basis: &builtin::Basis, job: &TargetSet, prep: &TargetSet) -> Targets {
    let mut list = builtin::targets(basis);
    job.over(&mut list);
    prep.over(&mut list);
    let place = |t: &Target| TARGET_MEASURES.iter().position(|m| *m == t.measure);
    list.sort_by_key(place);
    let rough_attempts = prep.rough_attempts.or(job.rough_attempts);
    Targets {
        list,
        rough_attempts: rough_attempts.unwrap_or(ROUGH_ATTEMPTS),
    }
}

/// Checks that what `prep` and `job` say together makes whole targets, whatever the built-in ones are.
///
/// # Errors
/// A target without `good` or `poor`, or with `good` not under `poor`; no weight left at all.
pub(super) fn check(job: &TargetSet, prep: &TargetSet, at: &Section) -> Result<()> {
    for basis in builtin::Basis::all() {
        let targets = merge(&basis, job, prep);
        for target in &targets.list {
            if target.good >= target.poor {
                let problem = format!(
                    "the target of {} has good = {} and poor = {} ({}), but good must be below poor",
                    target.measure, target.good, target.poor, target.origin
                );
                return Err(Error::new(
                    ErrorKind::UnusableTarget,
                    at.key(target.measure.name()),
                    problem,
                )
                .hint("Give both good and poor"));
            }
        }
        if targets.list.iter().all(|t| t.weight == 0.0) {
            return Err(
                Error::new(ErrorKind::UnusableTarget, at, "every target has weight 0")
                    .hint("Give at least one measure a weight above 0"),
            );
        }
        let set = job.measures.keys().chain(prep.measures.keys()).copied();
        if let Some(measure) = set.into_iter().find(|m| targets.get(*m).is_none()) {
            // A measure of AC alone may be built in there only.
            if builtin::knows(measure) {
                continue;
            }
            return Err(Error::new(
                ErrorKind::UnusableTarget,
                at.key(measure.name()),
                format!("{measure} has no built-in target to complete this one"),
            )
            .hint("Give both good and poor"));
        }
    }
    Ok(())
}
