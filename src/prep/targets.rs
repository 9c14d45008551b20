//! Targets: what a good and a poor start of this prep and job look like, and who said so.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::builtin;
use super::nearest::nearest;
use super::place::Place;
use crate::error::{Error, Result};

/// Measures that a target may be set on: all of them are the better the smaller.
///
/// `drift_v` is judged by its magnitude.
pub const TARGET_MEASURES: [&str; 17] = [
    "delay_ms",
    "stutter_ms",
    "settle_ms",
    "start_ms",
    "attempts",
    "rise_ms",
    "overshoot_pct",
    "dropouts",
    "dropout_ms",
    "dropout_longest_ms",
    "touches",
    "wander_v",
    "wander_a",
    "drift_v",
    "missed_halfcycles",
    "energy_j",
    "charge_c",
];

/// More attempts than this make a start rough, unless the job file says otherwise.
pub const ROUGH_ATTEMPTS: u32 = 2;

/// The target of one measure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Target {
    /// The measure.
    pub measure: &'static str,
    /// As good as it need be: desirability 1 at or below this.
    pub good: f64,
    /// As poor as it can be: desirability 0 at or above this.
    pub poor: f64,
    /// Exponent of the desirability.
    pub shape: f64,
    /// Weight in the geometric mean.
    pub weight: f64,
    /// Where it came from, in words.
    pub origin: String,
}

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
    pub fn get(&self, measure: &str) -> Option<&Target> {
        self.list.iter().find(|t| t.measure == measure)
    }
}

/// What one level (a prep, the job file) says of one target; the rest comes from the level below.
#[derive(Debug, Clone, Copy, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Partial {
    good: Option<f64>,
    poor: Option<f64>,
    shape: Option<f64>,
    weight: Option<f64>,
}

/// The targets of one level, as written in the job file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TargetSet {
    origin: String,
    rough_attempts: Option<u32>,
    measures: BTreeMap<&'static str, Partial>,
}

impl TargetSet {
    /// Reads `[targets]` or `[prep.NAME.targets]`.
    ///
    /// # Errors
    /// A measure that has no target, an unknown key, a number out of its range.
    pub(super) fn from_table(table: toml::Table, at: &Place) -> Result<TargetSet> {
        let origin = format!("[{}]", at.section);
        let mut set = TargetSet {
            origin: origin.clone(),
            ..TargetSet::default()
        };
        for (key, value) in table {
            if key == "rough_attempts" {
                set.rough_attempts = Some(rough_attempts(&value, &at.key(&key))?);
                continue;
            }
            let measure = known_measure(&key, &at.key(&key), &origin)?;
            let place = at.key(&key);
            let partial: Partial = value
                .try_into()
                .map_err(|e| super::job::toml_error(&place, &e))?;
            check_numbers(&partial, &place)?;
            set.measures.insert(measure, partial);
        }
        Ok(set)
    }

    /// Lays this level over the targets below it.
    fn over(&self, list: &mut Vec<Target>) {
        for (measure, partial) in &self.measures {
            match list.iter_mut().find(|t| t.measure == *measure) {
                Some(target) => partial.over(target, &self.origin),
                None => list.extend(partial.alone(measure, &self.origin)),
            }
        }
    }
}

impl Partial {
    fn over(self, target: &mut Target, origin: &str) {
        let whole = self.good.is_some() && self.poor.is_some();
        target.good = self.good.unwrap_or(target.good);
        target.poor = self.poor.unwrap_or(target.poor);
        target.shape = self.shape.unwrap_or(target.shape);
        target.weight = self.weight.unwrap_or(target.weight);
        target.origin = match whole {
            true => origin.to_owned(),
            false => format!("{origin}, the rest {}", target.origin),
        };
    }

    fn alone(self, measure: &'static str, origin: &str) -> Option<Target> {
        Some(Target {
            measure,
            good: self.good?,
            poor: self.poor?,
            shape: self.shape.unwrap_or(1.0),
            weight: self.weight.unwrap_or(1.0),
            origin: origin.to_owned(),
        })
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
pub(super) fn check(job: &TargetSet, prep: &TargetSet, at: &Place) -> Result<()> {
    for basis in builtin::Basis::all() {
        let targets = merge(&basis, job, prep);
        for target in &targets.list {
            if target.good >= target.poor {
                let problem = format!(
                    "the target of {} has good = {} and poor = {} ({}), and good must be under poor",
                    target.measure, target.good, target.poor, target.origin
                );
                return Err(
                    Error::input(at.key(target.measure), problem).hint("Give both good and poor")
                );
            }
        }
        if targets.list.iter().all(|t| t.weight == 0.0) {
            return Err(Error::input(at, "every target has the weight 0")
                .hint("Leave at least one measure its weight"));
        }
        let set = job.measures.keys().chain(prep.measures.keys());
        if let Some(measure) = set.into_iter().find(|m| targets.get(m).is_none()) {
            // A measure of AC alone may be built in there only.
            if builtin::knows(measure) {
                continue;
            }
            return Err(Error::input(
                at.key(measure),
                format!("the target of {measure} has no built-in numbers to fall back on"),
            )
            .hint("Give both good and poor"));
        }
    }
    Ok(())
}

fn known_measure(key: &str, at: &str, origin: &str) -> Result<&'static str> {
    if let Some(known) = TARGET_MEASURES.iter().find(|m| **m == key) {
        return Ok(known);
    }
    let all = TARGET_MEASURES.into_iter().chain(["rough_attempts"]);
    let way_out = match nearest(key, all) {
        Some(like) => format!("Did you mean '{like}'?"),
        None => format!("Targets can be set on {}", TARGET_MEASURES.join(", ")),
    };
    Err(Error::input(
        at,
        format!("'{key}' in {origin} is no measure that a target can be set on"),
    )
    .hint(way_out))
}

fn rough_attempts(value: &toml::Value, at: &str) -> Result<u32> {
    let number = value.as_integer().and_then(|n| u32::try_from(n).ok());
    number.filter(|n| *n > 0).ok_or_else(|| {
        let problem = format!("rough_attempts = {value} is no whole number from 1");
        Error::input(at, problem)
    })
}

fn check_numbers(partial: &Partial, at: &str) -> Result<()> {
    let ranges = [
        ("good", partial.good, 0.0, "from 0"),
        ("poor", partial.poor, 0.0, "from 0"),
        ("weight", partial.weight, 0.0, "from 0"),
        ("shape", partial.shape, f64::MIN_POSITIVE, "over 0"),
    ];
    for (name, value, least, range) in ranges {
        if let Some(value) = value.filter(|v| !(v.is_finite() && *v >= least)) {
            let problem = format!("{name} = {value}, expected a finite number {range}");
            return Err(Error::input(at, problem));
        }
    }
    Ok(())
}
