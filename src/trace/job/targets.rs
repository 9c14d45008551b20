//! Merged targets: what makes a start of this prep and job good or poor, and where each number comes from.

use serde::Serialize;

use crate::error::{Error, ErrorKind, Result};
use crate::job::builtin;
use crate::job::section::Section;
use crate::job::target_set::{ROUGH_ATTEMPTS, TARGET_MEASURES, Target, TargetSet};
use crate::measure::Measure;

/// All targets that a start is scored against.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Targets {
    /// One entry per measure, in the order of the starts table.
    pub list: Vec<Target>,
    /// A start with more attempts than this is rough.
    pub rough_attempts: u32,
}

impl Targets {
    /// Returns the target of a measure.
    pub fn get(&self, measure: Measure) -> Option<&Target> {
        self.list.iter().find(|t| t.measure == measure)
    }
}

/// Merges targets: the prep's override the job's, which override the built-in ones.
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

/// Checks that the targets of a prep and the job are complete with any of the built-in ones.
///
/// # Errors
/// A target without `good` or `poor`, or with `good` not below `poor`; all weights 0.
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
            // A measure of AC may have built-in targets for AC alone.
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
