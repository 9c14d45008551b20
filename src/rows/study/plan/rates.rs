//! Tips and starts that tell two rates of rough starts apart.

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use serde::Serialize;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::stats;
use crate::stats::TipTrial;
use crate::study::options::POWER;
use crate::study::plan::{Asked, MOST_STARTS, USUAL_SHARE, share_or_usual};

/// The rough-start rate decides a comparison's answer on its own only below this part of 1 − level:
/// it is a second question asked of the same starts.
pub const SECOND_QUESTION: f64 = 0.2;

/// Comparisons made up for each number of tips that is tried.
const RUNS: usize = 1000;

/// Tips and starts that tell two rates of rough starts apart.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RatesPlan {
    /// What it was made for.
    pub asked: Asked,
    /// First rate, in parts of one.
    pub first: f64,
    /// Second rate.
    pub second: f64,
    /// Tips of each prep.
    pub tips: u64,
    /// Share of variance between tips that was taken.
    pub share: f64,
    /// Part of the made-up comparisons that told the rates apart.
    pub power: f64,
}

/// Tips of each prep to see their rough-start rates differ, found by making up comparisons and
/// judging them by the rule that `compare` uses.
///
/// # Errors
/// Rates that are no rates, are equal, or too close; a share that is none.
pub fn for_rates(first: f64, second: f64, share: Option<f64>, asked: Asked) -> Result<RatesPlan> {
    for rate in [first, second] {
        if !(0.0..=1.0).contains(&rate) {
            let problem = format!("{} is not between 0 and 100", 100.0 * rate);
            return Err(Error::new(
                ErrorKind::InvalidParameter,
                Place::parameter("rates"),
                problem,
            ));
        }
    }
    if first == second {
        let problem = "the two are equal: there is nothing to see";
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("rates"),
            problem,
        ));
    }
    let share = share_or_usual(share)?;
    let level = 1.0 - SECOND_QUESTION * (1.0 - asked.pair_level()?);
    let made = Made {
        rates: [first, second],
        per_tip: asked.per_tip,
        share,
        level,
    };
    let (tips, power) = made.enough()?;
    Ok(RatesPlan {
        asked,
        first,
        second,
        tips,
        share,
        power,
    })
}

/// Power of this many tips of each prep, this many starts on each, to tell two rates of rough starts apart, by made-up
/// comparisons of the usual share between tips.
pub fn power_of_rates(rates: [f64; 2], tips: u64, per_tip: u64, level: f64) -> f64 {
    let made = Made {
        rates,
        per_tip,
        share: USUAL_SHARE,
        level: 1.0 - SECOND_QUESTION * (1.0 - level),
    };
    made.power(tips)
}

/// Made-up comparisons.
struct Made {
    rates: [f64; 2],
    per_tip: u64,
    share: f64,
    level: f64,
}

impl Made {
    /// The fewest tips with power enough, and that power.
    fn enough(&self) -> Result<(u64, f64)> {
        let effect = 1.0 + (self.per_tip as f64 - 1.0) * self.share;
        let starts = effect * stats::rates_size(self.rates[0], self.rates[1], self.level, POWER);
        let guess = (starts / self.per_tip as f64).ceil().max(2.0);
        if 2.0 * guess * self.per_tip as f64 > MOST_STARTS as f64 {
            let problem =
                format!("to tell them apart takes more than {MOST_STARTS} starts of each prep");
            return Err(Error::new(
                ErrorKind::InvalidParameter,
                Place::parameter("rates"),
                problem,
            )
            .hint("Ask for rates further apart"));
        }
        let (mut few, mut many) = (1, guess as u64);
        while self.power(many) < POWER {
            few = many;
            many *= 2;
        }
        while few + 1 < many {
            let middle = few.midpoint(many);
            match self.power(middle) < POWER {
                true => few = middle,
                false => many = middle,
            }
        }
        Ok((many, self.power(many)))
    }

    fn power(&self, tips: u64) -> f64 {
        let mut rng = ChaCha8Rng::seed_from_u64(tips);
        let told = (0..RUNS)
            .filter(|_| self.told_apart(tips, &mut rng))
            .count();
        told as f64 / RUNS as f64
    }

    fn told_apart(&self, tips: u64, rng: &mut ChaCha8Rng) -> bool {
        let mut trials = Vec::new();
        for group in [0, 1] {
            for _ in 0..tips {
                trials.push(TipTrial {
                    group,
                    block: 0,
                    events: self.events(self.rates[group], rng),
                    starts: self.per_tip as usize,
                });
            }
        }
        stats::tip_rates(&trials, 0, 1, self.level).is_some_and(|found| {
            let right = (found.rate_b > found.rate_a) == (self.rates[1] > self.rates[0]);
            right && found.p < 1.0 - self.level
        })
    }

    /// Rough starts of one tip: each start follows the tip's own draw with chance √share, else its
    /// own, which makes the correlation of two starts of a tip the share (Lunn & Davies 1998).
    fn events(&self, rate: f64, rng: &mut ChaCha8Rng) -> usize {
        let tip = rng.random_bool(rate);
        let follows = self.share.sqrt();
        (0..self.per_tip)
            .filter(|_| match rng.random_bool(follows) {
                true => tip,
                false => rng.random_bool(rate),
            })
            .count()
    }
}
