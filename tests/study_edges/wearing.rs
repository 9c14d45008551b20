//! Wear: how many starts it takes, how far a regrind number reaches, its interval, jumps.

use tipstrike::score::StartRow;
use tipstrike::study::{Wear, wear};

use crate::study_support::start;

/// Starts of a tip each, numbered since its regrind; `score` by that number.
fn tips(tips: u32, length: u32, score: impl Fn(u32, u32) -> f64) -> Vec<StartRow> {
    let mut rows = Vec::new();
    for tip in 0..tips {
        for k in 1..=length {
            let mut row = start("A", rows.len() as u32 + 1, score(tip, k));
            row.measures.since_regrind = Some(f64::from(k));
            rows.push(row);
        }
    }
    rows
}

fn score_wear(rows: &[StartRow]) -> Option<Wear> {
    let limit = |_: &str, measure: &str| (measure == "score").then_some(65.0);
    wear(rows, 0.95, limit)
        .into_iter()
        .find(|w| w.measure == "score")
}

#[test]
fn wear_is_looked_for_in_eight_starts_and_more() {
    assert_eq!(score_wear(&tips(1, 7, |_, k| 90.0 - f64::from(k))), None);
    assert_eq!(
        score_wear(&tips(1, 8, |_, k| 90.0 - f64::from(k)))
            .unwrap()
            .starts,
        8
    );
}

/// 100 − 2 k meets 65 at 17.5.
#[test]
fn a_regrind_number_is_given_up_to_twice_the_starts_seen() {
    let line = |length: u32, from: f64| {
        score_wear(&tips(1, length, |_, k| from - 2.0 * f64::from(k))).unwrap()
    };
    assert_eq!(
        line(20, 100.0).says,
        "Regrind A after about 17 starts (17 to 17 at 95 %): score then meets 65 points."
    );
    assert_eq!(
        line(17, 100.0).says,
        "Regrind A after about 17 starts (17 to 17 at 95 %): score then meets 65 points."
    );
    assert_eq!(
        line(10, 100.0).says,
        "Regrind A after about 17 starts (17 to 17 at 95 %, beyond the 10 seen): score then meets 65 points."
    );
    let far = line(8, 100.0);
    assert_eq!((far.at, far.lo, far.hi), (None, None, None));
    assert_eq!(
        far.says,
        "A wears: score changes by −20 points over ten starts, and meets 65 points far beyond the 8 starts seen."
    );
    assert_eq!(line(8, 97.0).at, Some(16.0), "just twice the eight seen");
    assert_eq!(line(20, 66.0).at, Some(0.0), "met before it was struck");
}

/// The lines with the slope's ends turn about the medians of counts and scores.
#[test]
fn the_interval_of_a_regrind_number_is_that_of_the_slope() {
    let found = score_wear(&tips(1, 25, |_, k| {
        95.0 - f64::from(k) + 4.0 * f64::from(k * 7 % 5) - 8.0
    }))
    .unwrap();
    let (x, y) = (13.0, found.intercept + found.slope * 13.0);
    let meets = |slope: f64| (x + (65.0 - y) / slope).floor();
    assert!(
        found.slope_lo < found.slope && found.slope < found.slope_hi && found.slope_hi < 0.0,
        "{found:?}"
    );
    assert_eq!(found.at, Some(meets(found.slope)));
    assert_eq!(
        (found.lo, found.hi),
        (Some(meets(found.slope_lo)), Some(meets(found.slope_hi)))
    );
}

#[test]
fn what_rises_to_the_better_is_no_wear_and_equal_counts_are_two_tips() {
    let better = score_wear(&tips(1, 20, |_, k| 60.0 + f64::from(k))).unwrap();
    assert_eq!((better.wears, better.at), (false, None));
    assert_eq!(
        better.says,
        "No sign of wear of A in score up to 20 starts."
    );
    let mut rows = tips(1, 10, |_, k| 90.0 - f64::from(k));
    rows[5].measures.since_regrind = Some(5.0);
    assert_eq!(score_wear(&rows).unwrap().tips, 2);
    rows[5].measures.since_regrind = None;
    assert_eq!(score_wear(&rows).unwrap().tips, 1);
}

#[test]
fn a_long_tip_is_thinned_to_three_hundred_starts() {
    let used = |length| {
        score_wear(&tips(1, length, |_, k| 95.0 - 0.05 * f64::from(k)))
            .unwrap()
            .starts
    };
    assert_eq!((used(300), used(301)), (300, 151));
}

/// 90 up to the tenth start, 60 from the eleventh on; a line has all of it beside it.
#[test]
fn a_tip_that_breaks_off_is_told_where() {
    let found = score_wear(&tips(
        2,
        20,
        |tip, k| if k <= 10 { 90.0 } else { 60.0 } - 0.1 * f64::from(tip),
    ))
    .unwrap();
    assert_eq!(found.change_at, Some(10.0));
    assert!(
        found
            .says
            .ends_with(" It goes off at once rather than bit by bit, after about 10 starts."),
        "{}",
        found.says
    );
    let line = score_wear(&tips(2, 20, |_, k| 95.0 - 2.0 * f64::from(k))).unwrap();
    assert_eq!(line.change_at, None);
}

/// The same for a measure that is worse when it rises.
#[test]
fn the_interval_of_a_rising_measure_turns_about_its_medians_too() {
    let mut rows = tips(1, 25, |_, _| 90.0);
    for (k, row) in rows.iter_mut().enumerate() {
        row.measures.start_ms = Some(50.0 + 10.0 * k as f64 + 40.0 * (k * 7 % 5) as f64);
    }
    let found = wear(&rows, 0.95, |_, measure| {
        (measure == "start_ms").then_some(400.0)
    });
    let found = found.into_iter().find(|w| w.measure == "start_ms").unwrap();
    let meets =
        |slope: f64| (13.0 + (400.0 - found.intercept - found.slope * 13.0) / slope).floor();
    assert!(
        0.0 < found.slope_lo && found.slope_lo < found.slope_hi,
        "{found:?}"
    );
    assert_eq!(
        (found.at, found.lo, found.hi),
        (
            Some(meets(found.slope)),
            Some(meets(found.slope_hi)),
            Some(meets(found.slope_lo))
        )
    );
}

/// Pettitt's p of a jump in the middle of eight counts is 2 exp(−6 · 16²/(8³ + 8²)) = 0.14: a trend, but no sure jump.
#[test]
fn a_jump_that_is_not_sure_is_not_told_and_a_trend_that_is_not_is_no_sign() {
    let jump = score_wear(&tips(
        3,
        8,
        |tip, k| if k <= 4 { 90.0 } else { 60.0 } - 0.1 * f64::from(tip),
    ))
    .unwrap();
    assert!(jump.wears, "{jump:?}");
    assert_eq!(jump.change_at, None);
    let slight = score_wear(&tips(1, 20, |_, k| {
        90.0 - 0.1 * f64::from(k) + f64::from(k * 7 % 10)
    }))
    .unwrap();
    assert!(slight.p > 0.05 && slight.slope < 0.0, "{slight:?}");
    assert_eq!(
        slight.says,
        "No sign of wear of A in score up to 20 starts."
    );
}
