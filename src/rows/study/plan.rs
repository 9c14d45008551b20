//! How many tips and starts does a question need, and in which order should they be struck?

mod limit;
mod order;
mod rates;

pub use limit::{LimitPlan, under_limit};
pub use order::{PlannedRun, run_order, run_sheet};
pub use rates::{RatesPlan, for_rates};
pub use rates::{SECOND_QUESTION, power_of_rates};

use serde::Serialize;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::measure::{Quantity, Transform};
use crate::score::StartRow;
use crate::stats;
use crate::stats::{TipStart, TipValues};
pub use crate::study::by_tips::USUAL_SHARE;
use crate::study::groups::counts;
use crate::study::options::POWER;
use crate::study::tips;

/// More starts of one prep than this are not planned: nobody strikes them.
pub const MOST_STARTS: u64 = 100_000;

/// Most preps that one plan compares.
const MOST_PREPS: u64 = 5;

/// Level of each of two declared stages that keep to 5 in 100 together (Pocock 1977).
pub const STAGE_LEVEL: f64 = 0.9706;

/// How many times the tips of one stage alone two stages take at the most (Pocock 1977: 1.11 at 80 % power).
const STAGED: f64 = 1.11;

/// What every plan of a comparison is made for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Asked {
    /// Preps to compare, each with each.
    pub preps: u64,
    /// Starts on each tip.
    pub per_tip: u64,
    /// Confidence level.
    pub level: f64,
    /// Whether the answer is looked at half way, too.
    pub two_stage: bool,
}

impl Asked {
    /// Level that one pair is judged at: Holm's first step, or a stage.
    ///
    /// # Errors
    /// Preps out of range; two stages of more than two preps, or at another level than 95 %.
    pub fn pair_level(&self) -> Result<f64> {
        if !(2..=MOST_PREPS).contains(&self.preps) {
            let problem = format!("{} preps cannot be planned for", self.preps);
            return Err(Error::new(
                ErrorKind::InvalidParameter,
                Place::parameter("preps"),
                problem,
            )
            .hint(format!("Compare 2 to {MOST_PREPS}")));
        }
        if !self.two_stage {
            return Ok(1.0 - (1.0 - self.level) / self.pairs() as f64);
        }
        if self.preps > 2 || self.level != 0.95 {
            let problem = "two stages are planned for two preps at level 0.95 only";
            return Err(Error::new(
                ErrorKind::InvalidParameter,
                Place::parameter("two_stage"),
                problem,
            )
            .hint("Leave the level at that, and compare two preps at a time"));
        }
        Ok(STAGE_LEVEL)
    }

    /// Pairs that preps make.
    pub fn pairs(&self) -> u64 {
        self.preps * (self.preps - 1) / 2
    }

    /// Tips of each prep where tip values have this variance; even in two stages.
    fn tips(&self, variance: f64, shift: f64) -> Result<u64> {
        let one = |level| stats::tips_size(variance, shift, level, POWER);
        let level = self.pair_level()?;
        let tips = match self.two_stage {
            true => 2.0 * (STAGED * one(self.level) / 2.0).ceil().max(2.0),
            false => one(level).ceil().max(2.0),
        };
        if tips * self.per_tip as f64 > MOST_STARTS as f64 {
            let problem = format!("that takes more than {MOST_STARTS} starts of each prep");
            return Err(Error::new(
                ErrorKind::InvalidParameter,
                Place::parameter("see"),
                problem,
            )
            .hint("Ask for a larger difference"));
        }
        Ok(tips as u64)
    }
}

/// Where a plan has the share of variance between tips from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "from")]
pub enum ShareFrom {
    /// A pilot: its tips, and the share with its 80 % interval.
    Pilot {
        /// Tips of the pilot.
        tips: usize,
        /// Lower end; `None` with one start a tip.
        lo: Option<f64>,
        /// Upper end.
        hi: Option<f64>,
    },
    /// The user.
    Stated,
    /// Neither: [`USUAL_SHARE`].
    Usual,
}

/// Tips and starts that show a difference in a measure.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShiftPlan {
    /// What it was made for.
    pub asked: Asked,
    /// The measure.
    pub measure: String,
    /// Difference that must not be missed, in its unit.
    pub see: f64,
    /// Tips of each prep.
    pub tips: u64,
    /// Tips it may really take, the fewest: pilot, the spread's 80 % interval; stated, no share.
    pub tips_lo: u64,
    /// The most: likewise; stated, a share of one half.
    pub tips_hi: u64,
    /// Share of the variance of single starts that lies between tips; `None` where a pilot with one
    /// start a tip cannot tell.
    pub share: Option<f64>,
    /// Where the share is from.
    pub share_from: ShareFrom,
}

/// Tips from a stated standard deviation of single starts and the share of its square between tips.
///
/// # Errors
/// A difference, spread or share out of range.
pub fn from_spread(
    spread: f64,
    share: Option<f64>,
    measure: &str,
    see: f64,
    asked: Asked,
) -> Result<ShiftPlan> {
    positive("see", see)?;
    positive("spread", spread)?;
    let used = share_or_usual(share)?;
    let of_tip = |share: f64| spread * spread * (share + (1.0 - share) / asked.per_tip as f64);
    let tips = |share: f64| asked.tips(of_tip(share), see);
    Ok(ShiftPlan {
        asked,
        measure: measure.into(),
        see,
        tips: tips(used)?,
        tips_lo: tips(0.0)?,
        tips_hi: tips(used.max(0.5))?,
        share: Some(used),
        share_from: match share {
            Some(_) => ShareFrom::Stated,
            None => ShareFrom::Usual,
        },
    })
}

fn share_or_usual(share: Option<f64>) -> Result<f64> {
    let share = share.unwrap_or(USUAL_SHARE);
    if !(0.0..=1.0).contains(&share) {
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("share"),
            format!("{share} is no share"),
        )
        .hint("Give a part of one, such as 0.2"));
    }
    Ok(share)
}

fn positive(parameter: &'static str, value: f64) -> Result<()> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::InvalidParameter,
        Place::parameter(parameter),
        format!("{value} is not above 0"),
    ))
}

/// Tips from the spread that a pilot's tips show inside each prep and coupon. Its spread is an
/// estimate: the number is one that is enough in 80 of 100 pilots.
///
/// # Errors
/// A difference that is not above 0, or past the top of the score; a pilot with fewer than two
/// tips beyond one a prep and coupon.
pub fn from_pilot(rows: &[StartRow], measure: &str, see: f64, asked: Asked) -> Result<ShiftPlan> {
    positive("see", see)?;
    let pilot = Pilot::of(rows, measure)?;
    pilot.under_ceiling(measure, see)?;
    let shift = match pilot.scale {
        Transform::Log => 2.0 * libm::asinh(see / (2.0 * pilot.usual)),
        Transform::Linear => see,
    };
    let tips = |chance: f64| asked.tips(pilot.variance(asked.per_tip, chance), shift);
    let share = stats::tip_share(&pilot.values, 0.8);
    Ok(ShiftPlan {
        asked,
        measure: measure.into(),
        see,
        tips: tips(0.2)?,
        tips_lo: tips(0.9)?,
        tips_hi: tips(0.1)?,
        share: share.map(|s| s.share),
        share_from: ShareFrom::Pilot {
            tips: pilot.values.tips.len(),
            lo: share.map(|s| s.lo),
            hi: share.map(|s| s.hi),
        },
    })
}

/// The tips of a pilot on the scale that tips are compared on.
struct Pilot {
    values: TipValues,
    scale: Transform,
    /// Usual value in the measure's unit (geometric mean on a log scale).
    usual: f64,
    /// Lowest mean of a prep.
    lowest: f64,
    /// Variance of tip values inside prep and coupon, on `df` degrees of freedom.
    between: f64,
    df: f64,
}

impl Pilot {
    fn of(rows: &[StartRow], measure: &str) -> Result<Pilot> {
        let counted: Vec<&StartRow> = rows.iter().filter(|row| counts(row)).collect();
        let (starts, scale) = numbered(&counted, measure);
        let values = stats::tip_values(&starts);
        let (between, df) = between_tips(&values);
        if df < 2.0 {
            let problem =
                format!("its tips are too few to tell how tips of one grind differ in {measure}");
            return Err(Error::new(ErrorKind::InvalidParameter, Place::parameter("pilot"), problem).hint(
                "Grind at least two more tips and name each in the sheet (tip_id), or give a spread and a share",
            ));
        }
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let all: Vec<f64> = starts.iter().map(|s| s.value).collect();
        let groups = 1 + starts.iter().map(|s| s.group).max().unwrap_or(0);
        let of_group = |group: usize| -> Vec<f64> {
            let own = starts.iter().filter(|s| s.group == group);
            own.map(|s| s.value).collect()
        };
        let usual = mean(&all);
        Ok(Pilot {
            scale,
            usual: match scale {
                Transform::Log => libm::exp(usual),
                Transform::Linear => usual,
            },
            lowest: (0..groups)
                .map(|g| mean(&of_group(g)))
                .fold(f64::INFINITY, f64::min),
            values,
            between,
            df,
        })
    }

    /// A score cannot rise past 100: a pilot that good shows no spread that a better prep would have.
    fn under_ceiling(&self, measure: &str, see: f64) -> Result<()> {
        if measure != "score" || self.lowest + see <= 100.0 {
            return Ok(());
        }
        let problem = format!(
            "its starts score {:.0} in the mean, and {see} more is past 100",
            self.lowest
        );
        Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("pilot"),
            problem,
        )
        .hint("Ask for a smaller difference, or plan in start_ms or wander_v, which have no top"))
    }

    /// Variance of a tip's value with `per_tip` starts; the spread between tips is at the end that it
    /// stays under with this chance of a larger one.
    fn variance(&self, per_tip: u64, chance: f64) -> f64 {
        let mean_inverse = |values: &TipValues| {
            let inverse = values.tips.iter().map(|tip| 1.0 / tip.starts as f64);
            inverse.sum::<f64>() / values.tips.len() as f64
        };
        let within = match self.values.within_df {
            0 => 0.0,
            df => self.values.within_ss / df as f64,
        };
        let high = stats::variance_bound(self.between, self.df, chance);
        let counted = 1.0 / per_tip as f64;
        let moved = high + within * (counted - mean_inverse(&self.values));
        moved.max(within * counted)
    }
}

/// The starts with numbers for prep, tip and coupon, and the scale their values are on.
fn numbered(rows: &[&StartRow], measure: &str) -> (Vec<TipStart>, Transform) {
    let value = |row: &StartRow| row.value(measure);
    let all_positive = rows.iter().filter_map(|row| value(row)).all(|x| x > 0.0);
    let scale = match (Quantity::named(measure), all_positive) {
        (Quantity::Measure(known), true) => known.transform(),
        _ => Transform::Linear,
    };
    let mut preps: Vec<&str> = rows.iter().map(|row| &*row.prep).collect();
    preps.sort_unstable();
    preps.dedup();
    let mut coupons: Vec<Option<&str>> = rows.iter().map(|row| row.coupon.as_deref()).collect();
    coupons.sort_unstable();
    coupons.dedup();
    let mut starts = Vec::new();
    let mut tip = 0;
    for (group, prep) in preps.iter().enumerate() {
        let own: Vec<&StartRow> = rows
            .iter()
            .copied()
            .filter(|row| *row.prep == **prep)
            .collect();
        for of_tip in tips::split(&own) {
            starts.extend(of_tip.iter().filter_map(|row| {
                Some(TipStart {
                    group,
                    tip,
                    coupon: coupons.binary_search(&row.coupon.as_deref()).ok()?,
                    value: scale.apply(value(row)?)?,
                })
            }));
            tip += 1;
        }
    }
    (starts, scale)
}

/// Variance of the tip values inside group and block, with its degrees of freedom.
fn between_tips(values: &TipValues) -> (f64, f64) {
    let mut cells: std::collections::BTreeMap<(usize, usize), Vec<f64>> = Default::default();
    for tip in &values.tips {
        cells
            .entry((tip.group, tip.block))
            .or_default()
            .push(tip.value);
    }
    let df = values.tips.len() as f64 - cells.len() as f64;
    let squares = |cell: &Vec<f64>| {
        let mean = cell.iter().sum::<f64>() / cell.len() as f64;
        cell.iter().map(|v| (v - mean).powi(2)).sum::<f64>()
    };
    (cells.values().map(squares).sum::<f64>() / df.max(1.0), df)
}
