//! Comparisons of starts built by hand: verdicts, words, cautions, merged tables.

mod warnings;

use std::sync::Arc;

use crate::study_support::{no_light, normal, said, start, starts};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use tipstrike::measure::Measure;
use tipstrike::measure::{Better, Quantity};
use tipstrike::measuring::gather::{GatherOptions, gather};
use tipstrike::measuring::table;
use tipstrike::report::words::answer;
use tipstrike::score::StartRow;
use tipstrike::study::{
    CompareOptions, Comparison, PairVerdict, Which, Withheld, compare_rows as compare,
};

fn by_score() -> CompareOptions {
    CompareOptions {
        measures: vec!["score".into()],
        ..CompareOptions::default()
    }
}

fn compared(rows: &[StartRow]) -> Comparison {
    compare(rows, &by_score()).unwrap()
}

fn scores(seed: u64, n: usize, mean: f64, sd: f64) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    (0..n)
        .map(|_| (mean + sd * normal(&mut rng)).clamp(0.0, 100.0))
        .collect()
}

#[test]
fn a_clear_difference_is_told_with_its_interval_and_the_rough_starts() {
    let mut rows = starts("A", &[81.0, 84.0, 86.0, 88.0, 90.0, 91.0, 93.0, 95.0]);
    rows.extend(starts(
        "B",
        &[40.0, 62.0, 64.0, 66.0, 68.0, 70.0, 71.0, 73.0],
    ));
    let found = compared(&rows);
    assert_eq!(found.pairs[0].verdict, PairVerdict::ABetter);
    assert_eq!(found.pairs[0].more_starts, None);
    // 1 − 0.025^(1/8) = 36.9 in 100 (Clopper–Pearson with no event), on paper.
    assert_eq!(
        answer(&found),
        "A started better than B: 0 of 8 starts rough against 1 of 8, score 22.0 points higher (17.0 to 29.0). \
         Struck were one tip of A and one tip of B, so this is about these tips (95 % intervals) and says nothing of \
         the grinds. Grind each anew at least 7 times to say so of the grinds. \
         Rough starts: A 0 of 8, which still allows up to 36.9 in 100 (95 % interval, more where tips differ); B 1 of 8."
    );
}

#[test]
fn alike_starts_too_few_for_the_rough_rate_are_told_with_its_range() {
    let mut rows = starts("A", &[90.0; 12]);
    rows.extend(starts("B", &[90.2; 12]));
    // Newcombe's interval of 0 of 12 against 0 of 12 is ± Wilson's bound, 1.96²/(12 + 1.96²) = 24.2 in 100, on paper.
    let answer = answer(&compared(&rows));
    assert!(answer.contains("24 fewer to 24 more in 100"), "{answer}");
}

#[test]
fn three_starts_each_are_not_enough() {
    let mut rows = starts("A", &[90.0, 91.0, 92.0]);
    rows.extend(starts("B", &[60.0, 61.0, 62.0]));
    let found = compared(&rows);
    let pair = &found.pairs[0];
    assert_eq!(pair.verdict, PairVerdict::NotEnough);
    assert_eq!(
        (pair.shift_lo, pair.shift_hi, pair.more_starts),
        (None, None, None)
    );
    assert!(
        answer(&found).starts_with("Not enough starts to tell A from B"),
        "{}",
        answer(&found)
    );
    let json = serde_json::to_value(&found).unwrap();
    assert!(json["pairs"][0]["shift_lo"].is_null());
    assert_eq!(json["pairs"][0]["verdict"], "not_enough");
}

#[test]
fn alike_preps_need_many_starts_before_no_difference_is_said() {
    let mut few = starts("A", &scores(1, 10, 85.0, 6.0));
    few.extend(starts("B", &scores(2, 10, 85.0, 6.0)));
    let found = compared(&few);
    assert_eq!(found.pairs[0].verdict, PairVerdict::NotEnough);

    let mut many = starts("A", &scores(3, 400, 85.0, 6.0));
    many.extend(starts("B", &scores(4, 400, 85.0, 6.0)));
    let found = compared(&many);
    assert_eq!(found.pairs[0].verdict, PairVerdict::NoDifference);
    assert!(
        answer(&found)
            .starts_with("No difference worth having between A and B: score within 5 points"),
        "{}",
        answer(&found)
    );
}

#[test]
fn alike_usual_starts_say_nothing_of_the_rough_ones() {
    let mut rows = starts("A", &scores(5, 40, 88.0, 3.0));
    rows.extend(starts("B", &scores(6, 40, 88.0, 3.0)));
    rows.extend((41..44).map(|n| no_light("B", n)));
    let found = compared(&rows);
    assert_eq!(found.pairs[0].withheld, Some(Withheld::PoorStarts));
    assert!(
        answer(&found).contains("not enough starts to say the same of poor ones"),
        "{}",
        answer(&found)
    );
}

#[test]
fn fewer_rough_starts_win_where_the_usual_start_is_alike() {
    let mut rows = starts("A", &scores(7, 200, 88.0, 6.0));
    rows.extend(starts("B", &scores(8, 182, 89.0, 6.0)));
    rows.extend((183..201).map(|n| no_light("B", n)));
    let found = compared(&rows);
    assert!(
        answer(&found).starts_with("A has fewer rough starts than B"),
        "{}",
        answer(&found)
    );
}

#[test]
fn coupons_are_taken_apart() {
    // A was struck mostly on the easy coupon, B mostly on the hard one; on each they are alike.
    let mut rows = Vec::new();
    for (prep, coupon, n, mean) in [
        ("A", "easy", 30, 90.0),
        ("A", "hard", 6, 70.0),
        ("B", "easy", 6, 90.0),
        ("B", "hard", 30, 70.0),
    ] {
        let part = scores(n as u64 + mean as u64, n, mean, 4.0);
        rows.extend(starts(prep, &part).into_iter().map(|row| StartRow {
            coupon: Some(coupon.into()),
            ..row
        }));
    }
    let blocked = compared(&rows);
    assert_eq!(blocked.pairs[0].blocks, 2);
    assert_ne!(blocked.pairs[0].verdict, PairVerdict::ABetter);
    for row in &mut rows {
        row.coupon = None;
    }
    let pooled = compared(&rows);
    assert_eq!(
        (pooled.pairs[0].blocks, pooled.pairs[0].verdict),
        (0, PairVerdict::ABetter)
    );
}

#[test]
fn counts_that_differ_in_rank_only_are_told_apart_though_their_medians_agree() {
    let with = |prep: &str, twos: usize| {
        (0..40)
            .map(move |i| {
                let mut row = start(prep, i as u32 + 1, 80.0);
                row.measures
                    .set(Measure::Attempts, Some(if i < twos { 2.0 } else { 1.0 }));
                row
            })
            .collect::<Vec<_>>()
    };
    let rows = [with("A", 0), with("B", 14)].concat();
    let options = CompareOptions {
        measures: vec!["attempts".into()],
        ..CompareOptions::default()
    };
    let found = compare(&rows, &options).unwrap();
    let pair = &found.pairs[0];
    assert_eq!((pair.shift, pair.verdict), (0.0, PairVerdict::ABetter));
}

#[test]
fn a_sheet_column_is_compared_on_the_side_that_is_better() {
    let with = |prep: &str, from: f64| -> Vec<StartRow> {
        (0..12)
            .map(|i| {
                let mut row = start(prep, i + 1, 80.0);
                Arc::make_mut(&mut row.sheet)
                    .insert("bead_mm".into(), (from + 0.01 * f64::from(i)).to_string());
                row
            })
            .collect()
    };
    let rows = [with("A", 2.0), with("B", 3.0)].concat();
    let mut options = CompareOptions {
        measures: vec!["bead_mm".into()],
        ..CompareOptions::default()
    };
    assert_eq!(
        compare(&rows, &options).unwrap().pairs[0].verdict,
        PairVerdict::ABetter
    );
    options.better.insert("bead_mm".into(), Better::Higher);
    assert_eq!(
        compare(&rows, &options).unwrap().pairs[0].verdict,
        PairVerdict::BBetter
    );
}

#[test]
fn a_measure_without_a_better_side_only_reads_lower() {
    let with = |prep: &str, amps: f64| -> Vec<StartRow> {
        (0..12)
            .map(|i| {
                let mut row = start(prep, i + 1, 80.0);
                row.measures
                    .set(Measure::RunA, Some(amps + 0.1 * f64::from(i)));
                row
            })
            .collect()
    };
    let rows = [with("A", 60.0), with("B", 90.0)].concat();
    let options = CompareOptions {
        measures: vec!["run_a".into()],
        ..CompareOptions::default()
    };
    let found = compare(&rows, &options).unwrap();
    assert!(
        answer(&found).starts_with("A reads lower than B: run current 30.00 A lower"),
        "{}",
        answer(&found)
    );
    assert!(
        said(&found).iter().any(|w| w.contains("different amps")),
        "{:?}",
        said(&found)
    );
}

#[test]
fn three_groups_are_compared_pair_by_pair_with_holm() {
    let mut rows = starts("A", &scores(11, 25, 90.0, 4.0));
    rows.extend(starts("B", &scores(12, 25, 75.0, 4.0)));
    rows.extend(starts("C", &scores(13, 25, 74.0, 4.0)));
    let found = compared(&rows);
    assert_eq!(found.pairs.len(), 3);
    assert!(found.overall[0].p < 1e-6);
    assert!(found.pairs.iter().all(|p| p.p_holm >= p.p));
    assert!(
        answer(&found).starts_with("A is better than B and C in score."),
        "{}",
        answer(&found)
    );
}

#[test]
fn one_group_has_nothing_to_be_compared_with() {
    let found = compared(&starts("A", &[80.0, 90.0]));
    assert_eq!(
        answer(&found),
        "All starts are of A: there is nothing to compare it with."
    );
}

#[test]
fn an_unknown_column_or_measure_is_named_with_the_way_out() {
    let rows = starts("A", &[80.0]);
    let ask = |by: &str, measure: &str| {
        let options = CompareOptions {
            by: by.into(),
            measures: vec![measure.into()],
            ..CompareOptions::default()
        };
        compare(&rows, &options).unwrap_err().to_string()
    };
    assert!(ask("colour", "score").contains("by colour: none of 1 starts has it"));
    assert!(ask("prep", "colour").contains("neither a measure nor a sheet column"));
}

#[test]
fn a_measure_keeps_its_better_side_and_is_compared_once() {
    let mut rows = starts("A", &scores(5, 12, 85.0, 5.0));
    rows.extend(starts("B", &scores(6, 12, 78.0, 9.0)));
    let twice = CompareOptions {
        measures: vec!["score".into(), "score".into()],
        ..by_score()
    };
    assert_eq!(compare(&rows, &twice).unwrap().pairs.len(), 1);
    let turned = CompareOptions {
        better: [("score".to_owned(), Better::Lower)].into(),
        ..by_score()
    };
    let said = compare(&rows, &turned).unwrap_err().to_string();
    assert!(said.contains("better score"), "{said}");
}

/// The bound in the sentence is the end of the interval in the table: 1 − 0.025^(1/12) = 26.5 in 100 (Clopper–Pearson
/// with no event, on paper).
#[test]
fn a_zero_rate_has_one_bound() {
    let mut rows = starts("A", &scores(5, 12, 92.0, 1.0));
    rows.extend(starts("B", &scores(6, 12, 91.0, 1.0)));
    let found = compared(&rows);
    assert!((found.groups[0].rough_hi - 0.26465).abs() < 1e-4);
    assert!(
        answer(&found).contains("A 0 of 12, which still allows up to 26.5 in 100 (95 % interval, more where tips differ)"),
        "{}",
        answer(&found)
    );
}

#[test]
fn cold_starts_and_restarts_are_compared_apart() {
    let mut rows = starts("A", &[80.0; 6]);
    rows.extend(starts("B", &[80.0; 6]));
    for (i, row) in rows.iter_mut().enumerate() {
        row.measures.set(
            Measure::RestS,
            [None, Some(60.0), Some(3.0), Some(30.0)][i % 4],
        );
    }
    let count = |which| {
        let options = CompareOptions {
            which,
            ..by_score()
        };
        compare(&rows, &options)
            .unwrap()
            .groups
            .iter()
            .map(|g| g.starts)
            .sum::<usize>()
    };
    assert_eq!(
        (
            count(Which::All),
            count(Which::Cold(30.0)),
            count(Which::Restarts(30.0))
        ),
        (12, 9, 3)
    );
}

/// docs/statistics.md: what is worth having where the user says nothing.
#[test]
fn every_measure_has_the_margin_of_the_docs_or_none() {
    for (measure, margin) in [
        ("score", Some(5.0)),
        ("start_ms", Some(20.0)),
        ("overshoot_pct", Some(5.0)),
        ("wander_v", Some(0.05)),
        ("run_v", Some(0.3)),
        ("run_a", Some(2.0)),
        ("dropouts", None),
        ("batch", None),
    ] {
        assert_eq!(Quantity::named(measure).margin(), margin, "{measure}");
    }
}
