//! The order to strike in, and the run sheet that holds it.

use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;
use serde::Serialize;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::format::counted;
use crate::job::SheetText;

/// More recordings than this are not planned.
const MOST_RUNS: u64 = 20_000;

/// One tip to grind and strike, in a recording of its own.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PlannedRun {
    /// Name to give the recording.
    pub file: String,
    /// Prep to use.
    pub prep: String,
    /// Name of the grinding.
    pub tip_id: String,
    /// Coupon to strike on.
    pub coupon: String,
    /// Starts to strike.
    pub starts: u64,
    /// Stage it belongs to, from 1.
    pub stage: u64,
}

/// The order to strike in: coupon by coupon, and on each the preps in turn, in an order drawn anew
/// each time, every one on a freshly ground tip; so neither heat nor hand nor coupon favours one.
/// Every prep gets just `starts`, spread evenly over tips of up to `per_tip`. With `stages` the
/// coupons are gone through that often.
///
/// # Errors
/// Fewer than two preps, one named twice, no coupon, or nothing to strike.
pub fn run_order(
    preps: &[String],
    coupons: &[String],
    starts: u64,
    per_tip: u64,
    stages: u64,
    seed: u64,
) -> Result<Vec<PlannedRun>> {
    distinct("preps", preps, 2)?;
    distinct("coupons", coupons, 1)?;
    if starts == 0 || per_tip == 0 {
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("starts"),
            "there is nothing to strike",
        ));
    }
    let tips = starts.div_ceil(per_tip);
    let total = tips.saturating_mul(preps.len() as u64);
    if total > MOST_RUNS {
        let problem =
            format!("{starts} starts of each prep make {total} recordings, more than {MOST_RUNS}");
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("starts"),
            problem,
        )
        .hint("Ask for fewer, or strike more on one tip"));
    }
    let digits = total.to_string().len().max(2);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut runs = Vec::new();
    for (tip, stage, coupon) in rounds(tips, stages, coupons.len() as u64) {
        let mut order: Vec<&String> = preps.iter().collect();
        order.shuffle(&mut rng);
        for prep in order {
            runs.push(PlannedRun {
                file: format!("run{:0digits$}.wav", runs.len() + 1),
                prep: prep.clone(),
                tip_id: format!("{prep}{}", tip + 1),
                coupon: coupons[coupon as usize].clone(),
                starts: starts / tips + u64::from(tip < starts % tips),
                stage: stage + 1,
            });
        }
    }
    Ok(runs)
}

/// (tip, stage, coupon), each from 0, in the order struck: the tips of each stage spread evenly over the coupons.
fn rounds(tips: u64, stages: u64, coupons: u64) -> Vec<(u64, u64, u64)> {
    let stage = |tip: u64| tip * stages / tips;
    let mut rounds: Vec<(u64, u64, u64)> = (0..tips)
        .map(|tip| {
            let first = (stage(tip) * tips).div_ceil(stages);
            (tip, stage(tip), (tip - first) % coupons)
        })
        .collect();
    rounds.sort_by_key(|&(tip, stage, coupon)| (stage, coupon, tip));
    rounds
}

fn distinct(parameter: &'static str, names: &[String], least: usize) -> Result<()> {
    let mut sorted: Vec<&String> = names.iter().collect();
    sorted.sort();
    if let Some(twice) = sorted.windows(2).find(|pair| pair[0] == pair[1]) {
        let problem = format!("'{}' stands there twice", twice[0]);
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter(parameter),
            problem,
        ));
    }
    if names.len() < least {
        let problem = format!("{} named, at least {least} expected", names.len());
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter(parameter),
            problem,
        ));
    }
    Ok(())
}

/// Columns of the run sheet, those known from the plan first.
const SHEET: [&str; 17] = [
    "file",
    "prep",
    "tip_id",
    "coupon",
    "starts",
    "since_regrind",
    "date",
    "set_a",
    "process",
    "start_method",
    "gas",
    "flow",
    "cup",
    "operator",
    "exclude",
    "tip_after",
    "note",
];

/// The order as a run sheet (CSV) to fill; each row's note says when to grind and how many to strike.
pub fn run_sheet(runs: &[PlannedRun]) -> String {
    let mut sheet = SheetText::new(&SHEET);
    let staged = runs.iter().any(|run| run.stage > 1);
    for (i, run) in runs.iter().enumerate() {
        let stage = match staged {
            true => format!(", stage {}", run.stage),
            false => String::new(),
        };
        let note = format!(
            "{} of {}{stage}: grind {} anew (tip {}), strike {}",
            i + 1,
            runs.len(),
            run.prep,
            run.tip_id,
            counted(run.starts as usize, "start")
        );
        sheet.push(&[
            ("file", &run.file),
            ("prep", &run.prep),
            ("tip_id", &run.tip_id),
            ("coupon", &run.coupon),
            ("starts", &run.starts.to_string()),
            ("since_regrind", "1"),
            ("note", &note),
        ]);
    }
    sheet.written()
}
