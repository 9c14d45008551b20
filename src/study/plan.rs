//! How many starts does a question need, and in which order should they be struck?

use rand::seq::SliceRandom;
use rand_chacha::{ChaCha8Rng, rand_core::SeedableRng};
use serde::Serialize;

use crate::error::{Error, Result};
use crate::format::{quantity, trimmed as number};
use crate::measuring::table::guard;
use crate::score::StartRow;
use crate::stats;
use crate::stats::Blocks;
use crate::study::compare::POWER;

/// More starts of one prep than this are not planned: nobody strikes them.
pub const MOST_STARTS: u64 = 100_000;

/// More recordings than this are not planned.
const MOST_RUNS: u64 = 20_000;

/// How many starts a question needs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StartsNeeded {
    /// Starts of each prep.
    pub each: u64,
    /// What they show, in words.
    pub says: String,
}

/// Starts of each of two preps to see a difference in a measure, from the spread of a pilot's
/// starts: the pilot is compared with itself shifted, inside each prep, and Noether's size taken.
///
/// # Errors
/// A difference that is not above 0; a pilot without two values in any prep.
pub fn from_pilot(rows: &[StartRow], measure: &str, see: f64, level: f64) -> Result<StartsNeeded> {
    positive("--see", see)?;
    let mut preps: Vec<&str> = rows.iter().map(|r| r.prep.as_str()).collect();
    preps.sort_unstable();
    preps.dedup();
    let (mut sum, mut pairs) = (0.0, 0.0);
    for prep in preps {
        let of_prep = rows.iter().filter(|r| r.prep == prep);
        let values: Vec<f64> = of_prep.filter_map(|r| r.value(measure)).collect();
        let shifted: Vec<f64> = values.iter().map(|v| v + see).collect();
        let Some(blocks) = Blocks::single(&values, &shifted) else {
            continue;
        };
        // A value against itself says nothing of the spread: those pairs are taken out again.
        let n = values.len() as f64;
        sum += n * n * stats::cliffs_delta(&blocks) - n;
        pairs += n * n - n;
    }
    if pairs == 0.0 {
        return Err(
            Error::input("pilot", format!("no prep has two starts with {measure}"))
                .hint("Strike a few starts first, or give --spread."),
        );
    }
    let delta = sum / pairs;
    Ok(needed(
        stats::rank_size(delta, level, POWER),
        measure,
        see,
        level,
    ))
}

/// The same from a stated standard deviation, as of a normal spread.
///
/// # Errors
/// A difference or a spread that is not above 0.
pub fn from_spread(spread: f64, measure: &str, see: f64, level: f64) -> Result<StartsNeeded> {
    positive("--see", see)?;
    positive("--spread", spread)?;
    let size = stats::rank_size(stats::normal_delta(see, spread), level, POWER);
    Ok(needed(size, measure, see, level))
}

fn positive(option: &str, value: f64) -> Result<()> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(Error::input(option, format!("{value} is not above 0")))
}

fn needed(size: f64, measure: &str, see: f64, level: f64) -> StartsNeeded {
    // Four against four is the least that can show anything at 95 %.
    let each = size.ceil().max(4.0) as u64;
    StartsNeeded {
        each,
        says: format!(
            "Strike {each} starts of each prep: a difference of {} in {measure} then shows in 8 comparisons of 10, and {} of 100 equal pairs are told apart by mistake.",
            quantity(measure, see),
            number(100.0 * (1.0 - level))
        ),
    }
}

/// Starts of each of two preps to see their rough-start rates differ.
///
/// # Errors
/// Rates that are no rates or are equal.
pub fn for_rates(first: f64, second: f64, level: f64) -> Result<StartsNeeded> {
    for rate in [first, second] {
        if !(0.0..=1.0).contains(&rate) {
            return Err(Error::input(
                "--rates",
                format!("{} is not between 0 and 100", 100.0 * rate),
            ));
        }
    }
    if first == second {
        return Err(Error::input(
            "--rates",
            "the two are equal: there is nothing to see",
        ));
    }
    let each = stats::rates_size(first, second, level, POWER).ceil() as u64;
    Ok(StartsNeeded {
        each,
        says: format!(
            "Strike {each} starts of each prep to tell {} rough starts in 100 from {} (8 comparisons of 10 will).",
            number(100.0 * first),
            number(100.0 * second)
        ),
    })
}

/// Starts that show a rough rate under `limit` when no more than `allowed` of them are rough.
///
/// # Errors
/// A limit that is no rate.
pub fn under_limit(limit: f64, allowed: u64, level: f64) -> Result<StartsNeeded> {
    if !(1e-6..1.0).contains(&limit) {
        return Err(Error::input(
            "--rough-under",
            format!("{} is not between 0 and 100", 100.0 * limit),
        ));
    }
    let each = if allowed == 0 {
        stats::success_run(level, 1.0 - limit)
    } else {
        stats::demonstration_size(allowed, limit, level)
    };
    let rough = match allowed {
        0 => "none of them rough".to_string(),
        n => format!("no more than {n} of them rough"),
    };
    Ok(StartsNeeded {
        each,
        says: format!(
            "{each} starts with {rough} show, at {} % confidence, fewer than {} rough in 100.",
            number(100.0 * level),
            number(100.0 * limit)
        ),
    })
}

/// One recording to make.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlannedRun {
    /// Name to give the recording.
    pub file: String,
    /// Prep to use.
    pub prep: String,
    /// Coupon to strike on.
    pub coupon: String,
    /// Starts to strike.
    pub starts: u64,
}

/// The order to strike in: round by round and coupon by coupon every prep comes once, the preps in
/// an order drawn anew each time, so that neither heat nor hand nor coupon favours one of them.
/// Every prep gets at least `each` starts, spread evenly over the coupons.
///
/// # Errors
/// Fewer than two preps, one named twice, no coupon, or nothing to strike.
pub fn run_order(
    preps: &[String],
    coupons: &[String],
    each: u64,
    per_run: u64,
    seed: u64,
) -> Result<Vec<PlannedRun>> {
    distinct("--preps", preps, 2)?;
    distinct("--coupons", coupons, 1)?;
    if each == 0 || per_run == 0 {
        return Err(Error::input("--starts", "there is nothing to strike"));
    }
    let blocks = each.div_ceil(per_run);
    let rounds = blocks.div_ceil(coupons.len() as u64);
    let total = rounds.saturating_mul((coupons.len() * preps.len()) as u64);
    if total > MOST_RUNS {
        let problem =
            format!("{each} starts of each prep make {total} recordings, more than {MOST_RUNS}");
        return Err(Error::input("--starts", problem)
            .hint("Ask for fewer, or strike more in one recording (--per-run)."));
    }
    let digits = total.to_string().len().max(2);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut runs = Vec::new();
    for _ in 0..rounds {
        for coupon in coupons {
            let mut order: Vec<&String> = preps.iter().collect();
            order.shuffle(&mut rng);
            for prep in order {
                runs.push(PlannedRun {
                    file: format!("run{:0digits$}.wav", runs.len() + 1),
                    prep: prep.clone(),
                    coupon: coupon.clone(),
                    starts: per_run,
                });
            }
        }
    }
    Ok(runs)
}

fn distinct(option: &str, names: &[String], least: usize) -> Result<()> {
    let mut sorted: Vec<&String> = names.iter().collect();
    sorted.sort();
    if let Some(twice) = sorted.windows(2).find(|pair| pair[0] == pair[1]) {
        return Err(Error::input(
            option,
            format!("'{}' stands there twice", twice[0]),
        ));
    }
    if names.len() < least {
        return Err(Error::input(
            option,
            format!("{} named, at least {least} expected", names.len()),
        ));
    }
    Ok(())
}

/// Columns of the run sheet, those known from the plan first.
const SHEET: [&str; 13] = [
    "file",
    "prep",
    "coupon",
    "set_a",
    "process",
    "start_method",
    "gas",
    "flow",
    "cup",
    "since_regrind",
    "operator",
    "tip_after",
    "note",
];

/// The order as a run sheet (CSV) to fill.
pub fn run_sheet(runs: &[PlannedRun]) -> String {
    let mut sheet = csv::Writer::from_writer(Vec::new());
    let never = "writing to memory does not fail";
    sheet.write_record(SHEET).expect(never);
    for run in runs {
        let note = match run.starts {
            1 => "strike 1 start".to_owned(),
            starts => format!("strike {starts} starts"),
        };
        let (prep, coupon) = (guard(&run.prep), guard(&run.coupon));
        let mut record = vec![run.file.as_str(), &prep, &coupon];
        record.resize(SHEET.len() - 1, "");
        record.push(&note);
        sheet.write_record(record).expect(never);
    }
    let bytes = sheet.into_inner().expect(never);
    String::from_utf8(bytes).expect("names are text")
}
