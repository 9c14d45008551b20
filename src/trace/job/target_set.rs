//! Targets on one level of the job file.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::nearest::nearest;
use crate::job::section::Section;
use crate::measure::Measure;

/// Measures that can have a target; for all of them less is better.
///
/// `drift_v` is judged by its magnitude.
pub const TARGET_MEASURES: [Measure; 17] = [
    Measure::DelayMs,
    Measure::StutterMs,
    Measure::SettleMs,
    Measure::StartMs,
    Measure::Attempts,
    Measure::RiseMs,
    Measure::OvershootPct,
    Measure::Dropouts,
    Measure::DropoutMs,
    Measure::DropoutLongestMs,
    Measure::Touches,
    Measure::WanderV,
    Measure::WanderA,
    Measure::DriftV,
    Measure::MissedHalfcycles,
    Measure::EnergyJ,
    Measure::ChargeC,
];

/// Default of `rough_attempts`: a start with more attempts is rough.
pub const ROUGH_ATTEMPTS: u32 = 2;

/// The target of one measure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Target {
    /// The measure.
    pub measure: Measure,
    /// Good enough: the desirability is 1 at or below this value.
    pub good: f64,
    /// Poor: the desirability is 0 at or above this value.
    pub poor: f64,
    /// Exponent of the desirability.
    pub shape: f64,
    /// Weight in the geometric mean.
    pub weight: f64,
    /// Where its numbers come from, in words.
    pub origin: Arc<str>,
}

/// A target as one level (a prep, the job file) gives it; the level below supplies the rest.
#[derive(Debug, Clone, Copy, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Partial {
    good: Option<f64>,
    poor: Option<f64>,
    shape: Option<f64>,
    weight: Option<f64>,
}

/// The targets of one level, as written in the job file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TargetSet {
    origin: Arc<str>,
    pub(super) rough_attempts: Option<u32>,
    pub(super) measures: BTreeMap<Measure, Partial>,
}

impl TargetSet {
    /// Reads `[targets]` or `[prep.NAME.targets]`.
    ///
    /// # Errors
    /// A measure that cannot have a target, an unknown key, a number out of range.
    pub(super) fn from_table(table: toml::Table, at: &Section) -> Result<TargetSet> {
        let origin: Arc<str> = format!("[{}]", at.section).into();
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
                .map_err(|e| crate::job::fault::toml_error(&place, &e))?;
            check_numbers(&partial, &place)?;
            set.measures.insert(measure, partial);
        }
        Ok(set)
    }

    /// Applies this level on top of the targets of the level below.
    pub(super) fn over(&self, list: &mut Vec<Target>) {
        for (measure, partial) in &self.measures {
            match list.iter_mut().find(|t| t.measure == *measure) {
                Some(target) => partial.over(target, &self.origin),
                None => list.extend(partial.alone(*measure, &self.origin)),
            }
        }
    }
}

impl Partial {
    pub(super) fn over(self, target: &mut Target, origin: &Arc<str>) {
        let whole = self.good.is_some() && self.poor.is_some();
        target.good = self.good.unwrap_or(target.good);
        target.poor = self.poor.unwrap_or(target.poor);
        target.shape = self.shape.unwrap_or(target.shape);
        target.weight = self.weight.unwrap_or(target.weight);
        target.origin = match whole {
            true => origin.clone(),
            false => format!("{origin}, the rest {}", target.origin).into(),
        };
    }

    fn alone(self, measure: Measure, origin: &Arc<str>) -> Option<Target> {
        Some(Target {
            measure,
            good: self.good?,
            poor: self.poor?,
            shape: self.shape.unwrap_or(1.0),
            weight: self.weight.unwrap_or(1.0),
            origin: origin.clone(),
        })
    }
}

fn known_measure(key: &str, at: &Place, origin: &str) -> Result<Measure> {
    let known = Measure::named(key).filter(|m| TARGET_MEASURES.contains(m));
    if let Some(measure) = known {
        return Ok(measure);
    }
    let names = TARGET_MEASURES.map(Measure::name);
    let all = names.into_iter().chain(["rough_attempts"]);
    let way_out = match nearest(key, all) {
        Some(like) => format!("Did you mean '{like}'?"),
        None => format!("Targets can be set on {}", names.join(", ")),
    };
    Err(Error::new(
        ErrorKind::UnusableTarget,
        at,
        format!("'{key}' in {origin} is not a measure that can have a target"),
    )
    .hint(way_out))
}

fn rough_attempts(value: &toml::Value, at: &Place) -> Result<u32> {
    let number = value.as_integer().and_then(|n| u32::try_from(n).ok());
    number.filter(|n| *n > 0).ok_or_else(|| {
        let problem = format!("rough_attempts = {value}, expected a whole number from 1");
        Error::new(ErrorKind::InvalidValue, at, problem)
    })
}

fn check_numbers(partial: &Partial, at: &Place) -> Result<()> {
    let ranges = [
        ("good", partial.good, 0.0, "from 0"),
        ("poor", partial.poor, 0.0, "from 0"),
        ("weight", partial.weight, 0.0, "from 0"),
        ("shape", partial.shape, f64::MIN_POSITIVE, "above 0"),
    ];
    for (name, value, least, range) in ranges {
        if let Some(value) = value.filter(|v| !(v.is_finite() && *v >= least)) {
            let problem = format!("{name} = {value}, expected a finite number {range}");
            return Err(Error::new(ErrorKind::InvalidValue, at, problem));
        }
    }
    Ok(())
}
