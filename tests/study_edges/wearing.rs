//! Wear: how many starts it takes, how far a regrind number reaches, its interval, jumps.

use tipstrike::measure::Measure;
use tipstrike::report::words::wear::says;
use tipstrike::score::StartRow;
use tipstrike::study::{Wear, WearOf, WearVerdict, wear};

use crate::study_support::start;

/// Starts of a tip each, numbered since its regrind; `score` by that number.
fn tips(tips: u32, length: u32, score: impl Fn(u32, u32) -> f64) -> Vec<StartRow> {
    let mut rows = Vec::new();
    for tip in 0..tips {
        for k in 1..=length {
            let mut row = start("A", rows.len() as u32 + 1, score(tip, k));
            row.measures.set(Measure::SinceRegrind, Some(f64::from(k)));
            rows.push(row);
        }
    }
    rows
}

fn score_wear(rows: &[StartRow]) -> Option<Wear> {
    let limit = |_: &str, measure: &str| (measure == "score").then_some(65.0);
    wear(rows, "prep", 0.95, limit)
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

/// 100 − 2 k meets 65 at 17.5. On one tip no upper end past the starts seen is given.
#[test]
fn a_regrind_number_is_given_up_to_twice_the_starts_seen() {
    let line = |length: u32, from: f64| {
        score_wear(&tips(1, length, |_, k| from - 2.0 * f64::from(k))).unwrap()
    };
    let about = "about this one tip, not the grind";
    assert_eq!(
        says(&line(20, 100.0)),
        format!(
            "Regrind A after about 17 starts (17 to 18 at 95 %; {about}): score of the usual start then meets 65 points."
        )
    );
    assert_eq!(
        says(&line(10, 100.0)),
        format!(
            "Regrind A after about 17 starts (17 or more at 95 %, beyond the 10 seen; {about}): score of the usual start then meets 65 points."
        )
    );
    let far = line(8, 100.0);
    assert_eq!((far.at, far.lo, far.hi), (None, Some(17.0), None));
    assert_eq!(
        says(&far),
        format!(
            "A wears: score changes by −20 points over ten starts, and meets 65 points far beyond the 8 starts seen, not before about 17 ({about})."
        )
    );
    assert_eq!(line(8, 97.0).at, Some(16.0), "just twice the eight seen");
    let spent = line(20, 66.0);
    assert_eq!(spent.at, Some(0.0), "met before it was struck");
    assert!(
        says(&spent).contains("is past 65 points from the first start on"),
        "{}",
        says(&spent)
    );
}

/// Tips whose levels and slopes differ, none of them with noise of its own: 90 + a − (0.5 + b) k with (a, b) =
/// (0, 0), (4, 0.05), (−4, −0.05), (2, 0.1), (−2, −0.1). The mean line meets 65 at 50. Fieller's ends recomputed with
/// NumPy and SciPy 1.17.1 from the covariance of the five lines, t(0.975, 4) = 2.776: 44.672 and 56.771.
#[test]
fn the_interval_of_a_regrind_number_rests_on_how_the_tips_differ() {
    let of_tip = [
        (0.0, 0.0),
        (4.0, 0.05),
        (-4.0, -0.05),
        (2.0, 0.1),
        (-2.0, -0.1),
    ];
    let found = score_wear(&tips(5, 40, |tip, k| {
        let (a, b) = of_tip[tip as usize];
        90.0 + a - (0.5 + b) * f64::from(k)
    }))
    .unwrap();
    assert_eq!((found.about, found.tips), (WearOf::Prep, 5));
    assert!((found.slope + 0.5).abs() < 1e-12 && (found.intercept - 90.0).abs() < 1e-9);
    // sd of the slopes √(0.025/4), by √5: 0.0353553, times 2.776445.
    assert!((found.slope_hi + 0.5 - 0.098_162).abs() < 1e-5, "{found:?}");
    assert_eq!(
        (found.at, found.lo, found.hi),
        (Some(50.0), Some(44.0), Some(57.0))
    );
}

#[test]
fn a_tip_used_in_turn_with_another_is_told_from_it_by_its_name() {
    // A1 wears from 95, A2 starts at 70 and hardly does; struck turn about.
    let mut rows = Vec::new();
    for k in 1..=20 {
        for (tip, score) in [
            ("A1", 95.0 - 1.5 * f64::from(k)),
            ("A2", 70.0 - 0.1 * f64::from(k)),
        ] {
            let mut row = start("A", rows.len() as u32 + 1, score);
            row.measures.set(Measure::SinceRegrind, Some(f64::from(k)));
            row.tip_id = Some(tip.into());
            rows.push(row);
        }
    }
    let found = score_wear(&rows).unwrap();
    assert_eq!((found.tips, found.short_tips), (2, 0));
    assert!((found.slope + 0.8).abs() < 1e-9, "{found:?}");
    assert_eq!(found.verdict, WearVerdict::Wears);
}

#[test]
fn wear_is_looked_for_inside_each_group() {
    // In cell 2 the tips collapse; with the steady ones of cell 1 among them nothing shows.
    let mut rows = tips(6, 20, |tip, k| match tip {
        0..3 => 90.0 - 2.0 * f64::from(k) + f64::from(k * 7 % 5),
        _ => 85.0 + f64::from(k * 7 % 5),
    });
    for (i, row) in rows.iter_mut().enumerate() {
        let cell = if i < 60 { "2" } else { "1" };
        row.cell = Some(cell.into());
    }
    let limit = |_: &str, measure: &str| (measure == "score").then_some(65.0);
    let by = |by: &str| -> Vec<Wear> {
        let found = wear(&rows, by, 0.95, limit);
        found.into_iter().filter(|w| w.measure == "score").collect()
    };
    let cells = by("cell");
    assert_eq!(
        [&cells[0], &cells[1]].map(|w| (w.group.as_str(), w.verdict)),
        [("1", WearVerdict::NoSign), ("2", WearVerdict::Wears)]
    );
    assert!(
        says(&cells[1]).starts_with("Regrind cell 2 (prep A) after about 13 starts"),
        "{}",
        says(&cells[1])
    );
    // Taken together the tips differ too much to say, and that is said.
    let all = &by("prep")[0];
    assert_eq!(all.verdict, WearVerdict::NotClear, "{all:?}");
}

#[test]
fn what_rises_to_the_better_is_no_wear_and_equal_counts_are_two_tips() {
    let better = score_wear(&tips(1, 20, |_, k| 60.0 + f64::from(k))).unwrap();
    assert_eq!((better.verdict, better.at), (WearVerdict::NoSign, None));
    assert_eq!(
        says(&better),
        "No sign of wear of A in score up to 20 starts (about this one tip, not the grind)."
    );
    let mut rows = tips(1, 12, |_, k| 90.0 - f64::from(k));
    rows[6].measures.set(Measure::SinceRegrind, Some(6.0));
    assert_eq!(score_wear(&rows).unwrap().tips, 2);
    rows[6].measures.set(Measure::SinceRegrind, None);
    assert_eq!(score_wear(&rows).unwrap().tips, 1);
}

#[test]
fn tips_with_fewer_than_five_starts_are_left_out_and_counted() {
    let mut rows = tips(3, 10, |tip, k| {
        90.0 - f64::from(k) + f64::from((k * 7 + tip) % 5)
    });
    rows.truncate(24);
    let found = score_wear(&rows).unwrap();
    assert_eq!((found.tips, found.short_tips, found.starts), (2, 1, 20));
    assert!(
        says(&found).contains("about these 2 tips, not the grind; 1 with too few starts left out"),
        "{}",
        says(&found)
    );
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

/// 90 up to the tenth start (tip 0), eleventh, twelfth; 60 from there on; a line has all of it beside it.
#[test]
fn tips_that_break_off_are_told_where() {
    let found = score_wear(&tips(
        3,
        24,
        |tip, k| {
            if k <= 10 + tip { 90.0 } else { 60.0 }
        },
    ))
    .unwrap();
    assert_eq!(
        (found.change_at, found.at, found.lo, found.hi),
        (Some(11.0), Some(11.0), Some(10.0), Some(12.0))
    );
    assert_eq!(
        says(&found),
        "Regrind A after about 11 starts (10 to 12 in the tips seen; 3 tips): it goes off at once there rather than bit by bit, score passing 65 points."
    );
    let line = score_wear(&tips(2, 20, |_, k| 95.0 - 2.0 * f64::from(k))).unwrap();
    assert_eq!(line.change_at, None);
}

/// Pettitt's p of a jump in the middle of eight counts is 2 exp(−6 · 16²/(8³ + 8²)) = 0.14: a trend, but no sure jump.
/// The slight trend has S = −44 over its three tips, variance 3 × 950, so p = 2 (1 − Φ(43/53.4)) = 0.42, on paper; no
/// value recurs, which would let the smallest slope decide every tie.
#[test]
fn a_jump_that_is_not_sure_is_not_told_and_a_trend_that_is_not_is_no_sign() {
    let jump = score_wear(&tips(3, 8, |tip, k| {
        let level = if k <= 4 { 90.0 } else { 60.0 };
        level - 0.1 * f64::from(tip) - 0.01 * f64::from(k)
    }))
    .unwrap();
    assert!(jump.wears(), "{jump:?}");
    assert_eq!(jump.change_at, None);
    let slight = score_wear(&tips(3, 20, |tip, k| {
        90.0 - 0.05 * f64::from(k) + 0.3 * f64::from((3 * k + 8 * tip) % 20)
    }))
    .unwrap();
    assert!((slight.p - 0.4206).abs() < 5e-5, "{slight:?}");
    assert_eq!(
        says(&slight),
        "No sign of wear of A in score up to 20 starts (3 tips)."
    );
}
