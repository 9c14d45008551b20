//! Comparisons by tips: what the unit is, what is said of it, and what spoils it.

use std::sync::Arc;

use crate::study_support::{on_tip, said, starts};
use tipstrike::measure::Measure;
use tipstrike::measuring::gather::StartSet;
use tipstrike::report::words::answer;
use tipstrike::score::StartRow;
use tipstrike::study::{
    About, CompareOptions, Comparison, PairVerdict, Withheld, compare, compare_rows,
};

fn by(rows: &[StartRow], measure: &str) -> Comparison {
    let options = CompareOptions {
        measures: vec![measure.into(), "start_ms".into()],
        ..CompareOptions::default()
    };
    compare_rows(rows, &options).unwrap()
}

/// Starts of tips named by their grind, each on one coupon; a value a start.
fn tips(prep: &str, coupon: &str, values: &[&[f64]]) -> Vec<StartRow> {
    let tip = |k: usize| format!("{prep}{coupon}{k}");
    let of_tip = |(k, values): (usize, &&[f64])| {
        let own = values
            .iter()
            .zip(1..)
            .map(|(score, number)| on_tip(prep, &tip(k), coupon, number, *score));
        own.collect::<Vec<_>>()
    };
    values.iter().enumerate().flat_map(of_tip).collect()
}

/// Student's (1908) sleep data as ten tips a grind on one coupon, two starts at and about each value: Welch's
/// t = −1.86, not significant, whatever forty starts would say.
#[test]
fn the_spread_between_tips_decides_and_not_the_number_of_starts() {
    let one = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    let two = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let around = |x: f64| vec![60.0 + x - 0.01, 60.0 + x + 0.01];
    let of = |prep: &str, values: &[f64]| {
        let starts: Vec<Vec<f64>> = values.iter().map(|x| around(*x)).collect();
        let slices: Vec<&[f64]> = starts.iter().map(Vec::as_slice).collect();
        tips(prep, "x", &slices)
    };
    let found = by(&[of("A", &one), of("B", &two)].concat(), "score");
    let pair = &found.pairs[0];
    assert_eq!(
        (pair.about, pair.tips_a, pair.tips_b, pair.n_a),
        (About::Prep, 10, 10, 20)
    );
    assert!(
        (pair.shift - 1.58).abs() < 1e-9,
        "mean of B less mean of A, on paper: {}",
        pair.shift
    );
    // Welch: p = 0.0794 and −0.2055 to 3.3655; the steadier degrees of freedom (17.78 → 17.8) move the third digit.
    assert!((pair.p.unwrap() - 0.0794).abs() < 0.0005, "{:?}", pair.p);
    assert!(
        (pair.shift_lo.unwrap() + 0.2055).abs() < 0.003,
        "{:?}",
        pair.shift_lo
    );
    assert!(
        (pair.shift_hi.unwrap() - 3.3655).abs() < 0.003,
        "{:?}",
        pair.shift_hi
    );
    assert_eq!(pair.verdict, PairVerdict::NotEnough);
    assert!(
        pair.by_starts.p < 0.05,
        "forty starts would have said so: {}",
        pair.by_starts.p
    );
    let share = pair.share.unwrap();
    assert!(share.share > 0.99 && share.lo > 0.99, "{share:?}");
}

/// The figures by the definition of docs/statistics.md in NumPy and SciPy: −31.667 (−38.243 to −25.091) points, 28.317
/// (25.632 to 31.017) ms.
#[test]
fn the_headline_leads_with_what_a_welder_feels() {
    let mut rows = Vec::new();
    for (prep, coupon, scores, ms) in [
        ("A", "x", [[91.0, 93.0], [94.0, 90.0], [89.0, 93.0]], 40.0),
        ("A", "y", [[92.0, 90.0], [91.0, 95.0], [93.0, 92.0]], 42.0),
        ("B", "x", [[61.0, 40.0], [66.0, 70.0], [63.0, 59.0]], 66.0),
        ("B", "y", [[60.0, 64.0], [45.0, 66.0], [61.0, 68.0]], 70.0),
    ] {
        let slices: Vec<&[f64]> = scores.iter().map(<[f64; 2]>::as_slice).collect();
        let mut part = tips(prep, coupon, &slices);
        for (k, row) in part.iter_mut().enumerate() {
            row.measures
                .set(Measure::StartMs, Some(ms * (1.0 + 0.02 * k as f64)));
        }
        rows.extend(part);
    }
    let told = answer(&by(&rows, "score"));
    let expected = "A starts better than B: 28.3 ms sooner (25.6 to 31.0), 0 of 12 starts rough against 2 of 12, score \
        31.7 points higher (25.1 to 38.2). That rests on 6 tips each, 2 starts on a tip (95 % intervals).";
    assert_eq!(told.split(" Rough starts").next().unwrap(), expected);
}

/// The difference of two geometric means: tips at 40 and 90 ms (geometric mean 60) against 20 and 45 (30).
#[test]
fn times_are_compared_by_geometric_means_and_told_in_milliseconds() {
    let with = |prep: &str, values: [f64; 2]| {
        let mut rows = tips(prep, "x", &[&[80.0], &[80.0]]);
        rows.iter_mut()
            .zip(values)
            .for_each(|(row, ms)| row.measures.set(Measure::StartMs, Some(ms)));
        rows
    };
    let found = by(
        &[with("A", [40.0, 90.0]), with("B", [20.0, 45.0])].concat(),
        "start_ms",
    );
    let pair = &found.pairs[0];
    assert!((pair.usual_a - 60.0).abs() < 1e-9 && (pair.usual_b - 30.0).abs() < 1e-9);
    assert!((pair.shift + 30.0).abs() < 1e-9, "{}", pair.shift);
    // 2 √(60 × 30) sinh(d/2) at d = −ln 2 is 30 exactly: (√2 − 1/√2) × 42.43.
    assert!(pair.shift_lo.unwrap() < pair.shift && pair.shift < pair.shift_hi.unwrap());
}

#[test]
fn one_tip_of_each_is_about_these_tips_and_says_how_many_to_grind() {
    let rows = [
        tips("A", "x", &[&[90.0, 91.0, 92.0, 93.0, 94.0]]),
        tips("B", "x", &[&[60.0, 61.0, 62.0, 63.0, 64.0]]),
    ]
    .concat();
    let found = by(&rows, "score");
    assert_eq!(found.pairs[0].about, About::Tips);
    assert_eq!(found.pairs[0].verdict, PairVerdict::ABetter);
    let told = answer(&found);
    // One standard deviation, a share of 0.2, five starts a tip: 15.7 × 0.36 + 1.5 = 7.2, on paper.
    assert!(
        told.contains("says nothing of the grinds. Grind each anew at least 8 times"),
        "{told}"
    );
    assert!(told.starts_with("A started better than B"), "{told}");
}

/// Four coupons with one start of each grind, all of one sign: the exact p is 2/2⁴ = 0.125.
#[test]
fn four_coupons_of_one_against_one_have_p_one_eighth_start_by_start() {
    let mut rows = Vec::new();
    for (k, coupon) in ["w", "x", "y", "z"].iter().enumerate() {
        rows.extend(tips("A", coupon, &[&[60.0 + k as f64]]));
        rows.extend(tips("B", coupon, &[&[70.0 + 2.0 * k as f64]]));
    }
    let pair = &by(&rows, "score").pairs[0];
    assert!(
        (pair.by_starts.p - 0.125).abs() < 1e-12,
        "{}",
        pair.by_starts.p
    );
    assert_eq!((pair.by_starts.lo, pair.by_starts.hi), (None, None));
}

#[test]
fn no_verdict_where_nothing_carries_one() {
    let flat = [
        tips("A", "x", &[&[80.0], &[80.0], &[80.0], &[80.0]]),
        tips("B", "x", &[&[90.0], &[90.0], &[90.0], &[90.0]]),
    ]
    .concat();
    let pair = &by(&flat, "score").pairs[0];
    assert_eq!(
        (pair.verdict, pair.withheld, pair.p),
        (PairVerdict::NotEnough, Some(Withheld::NoSpread), None)
    );
    let single = [
        tips("A", "x", &[&[80.0], &[81.0], &[80.5]]),
        tips("B", "x", &[&[20.0], &[20.5], &[21.0]]),
    ]
    .concat();
    let pair = &by(&single, "score").pairs[0];
    assert_eq!(
        (pair.verdict, pair.withheld),
        (PairVerdict::NotEnough, Some(Withheld::OneStartATip))
    );
}

#[test]
fn without_a_name_a_count_that_falls_back_begins_a_tip_in_its_cell_and_hand() {
    let row = |prep: &str, number: u32, since: f64, cell: &str| {
        let mut row = starts(prep, &[80.0 + f64::from(number)]).remove(0);
        (row.start, row.cell) = (number, Some(cell.into()));
        row.measures.set(Measure::SinceRegrind, Some(since));
        row
    };
    // Two cells use a tip each in turn; cell 1 regrinds once.
    let mut rows: Vec<StartRow> = [
        (1.0, "1"),
        (1.0, "2"),
        (2.0, "1"),
        (2.0, "2"),
        (1.0, "1"),
        (3.0, "2"),
    ]
    .iter()
    .zip(1..)
    .map(|((since, cell), number)| row("A", number, *since, cell))
    .collect();
    rows.extend(starts("B", &[80.0, 81.0]));
    let groups = by(&rows, "score").groups;
    assert_eq!([groups[0].tips, groups[1].tips], [3, 1]);
}

#[test]
fn starts_set_aside_are_counted_in_no_answer_and_said() {
    let mut rows = [
        tips("A", "x", &[&[90.0, 91.0, 20.0], &[92.0, 90.5, 91.0]]),
        tips("B", "x", &[&[60.0, 61.0, 62.0], &[64.0, 60.0, 61.0]]),
    ]
    .concat();
    rows[2].exclude = Some("fumbled".into());
    let found = by(&rows, "score");
    assert_eq!(
        (
            found.set_aside,
            found.groups[0].starts,
            found.groups[0].rough
        ),
        (1, 5, 0)
    );
    assert!(
        answer(&found).contains("Not counted: 1 start set aside."),
        "{}",
        answer(&found)
    );
    let said = said(&found);
    assert!(
        said.iter()
            .any(|w| w
                .starts_with("Starts set aside or doubtful are not alike (A 1 of 6; B 0 of 6)")),
        "{said:?}"
    );
    rows.iter_mut()
        .for_each(|row| row.exclude = Some("wet".into()));
    let error = compare_rows(&rows, &CompareOptions::default())
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("every start is set aside or doubtful"),
        "{error}"
    );
}

#[test]
fn one_name_for_two_preps_is_refused() {
    let mut rows = [starts("A", &[80.0, 81.0]), starts("B", &[80.0, 81.0])].concat();
    Arc::make_mut(&mut rows[0].sheet).insert("class".into(), "WLa20".into());
    Arc::make_mut(&mut rows[1].sheet).insert("class".into(), "WTh20".into());
    let error = compare_rows(&rows, &CompareOptions::default())
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("prep A: means two preps: class is WLa20 in A.wav and WTh20 in A.wav"),
        "{error}"
    );
}

#[test]
fn the_order_is_told_by_date_and_across_sheets_and_with_the_answer() {
    let mut rows = [
        tips("A", "x", &[&[80.0, 82.0], &[81.0, 83.0]]),
        tips("B", "x", &[&[80.0, 82.0], &[81.0, 83.0]]),
    ]
    .concat();
    let set = |rows: &[StartRow], ends: &[usize]| StartSet {
        rows: rows.to_vec(),
        sheets: ends.windows(2).map(|pair| pair[0]..pair[1]).collect(),
        ..StartSet::default()
    };
    let told = |set: &StartSet| answer(&compare(set, &CompareOptions::default()).unwrap());
    let care = "Read it with care: the order struck may explain a difference, or hide one";
    assert!(!told(&set(&rows, &[0, 8])).contains(care));
    assert!(told(&set(&rows, &[0, 4, 8])).contains(care));
    for (k, row) in rows.iter_mut().enumerate() {
        row.date = Some(if k < 4 { "2026-03-09" } else { "2026-03-10" }.into());
    }
    assert!(told(&set(&rows, &[0, 8])).contains(care));
}

/// A first look at 5 %, its one extension at 1 %.
#[test]
fn a_second_look_is_held_to_a_fifth_of_the_chance() {
    let rows = [starts("A", &[80.0, 81.0]), starts("B", &[80.0, 81.0])].concat();
    let options = CompareOptions {
        extended: true,
        ..CompareOptions::default()
    };
    let found = compare_rows(&rows, &options).unwrap();
    assert!((found.level - 0.99).abs() < 1e-12);
    assert!(
        answer(&found).contains("This is a second look"),
        "{}",
        answer(&found)
    );
}
