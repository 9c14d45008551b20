//! Looking after every start: by tips, either question may decide, and never against the other.

use tipstrike::report::words::sequential::says;
use tipstrike::score::{StartRow, Verdict};
use tipstrike::study::{CompareOptions, PairVerdict, WhileStriking, compare_rows};

use crate::study_support::start;

/// So many tips of each prep with four starts on each, struck turn about; `shape` by prep, tip, start.
fn watched(tips: usize, shape: &dyn Fn(&mut StartRow, usize, usize)) -> WhileStriking {
    let mut rows = Vec::new();
    for tip in 0..tips {
        for k in 0..4 {
            for prep in ["A", "B"] {
                let mut row = start(prep, rows.len() as u32 + 1, 70.0);
                row.tip_id = Some(format!("{prep}{tip}").into());
                shape(&mut row, tip, k);
                rows.push(row);
            }
        }
    }
    let options = CompareOptions {
        measures: vec!["score".into()],
        while_striking: true,
        ..CompareOptions::default()
    };
    compare_rows(&rows, &options)
        .unwrap()
        .while_striking
        .remove(0)
}

/// 70 and a little that differs between tips and starts.
fn usual(tip: usize, k: usize) -> f64 {
    70.0 + (tip * 7 % 5) as f64 + (k * 3 % 4) as f64
}

#[test]
fn many_starts_on_one_tip_of_each_say_nothing_of_the_grinds() {
    let found = watched(1, &|row, _, k| {
        row.score = Some(if &*row.prep == "A" { 95.0 } else { 20.0 } + k as f64);
    });
    assert_eq!(
        (found.verdict, found.score_e),
        (PairVerdict::NotEnough, 1.0)
    );
    assert_eq!(
        says(&found),
        "Keep striking, and grind anew: after 1 tip of A and 1 of B nothing can be said of the grinds, for one tip of a grind does not tell how its tips differ."
    );
}

#[test]
fn the_better_one_is_named_and_how_strongly_the_tips_speak() {
    let gap = |better: &'static str| {
        move |row: &mut StartRow, tip: usize, k: usize| {
            let plus = if *row.prep == *better { 15.0 } else { 0.0 };
            row.score = Some(usual(tip, k) + plus);
        }
    };
    let found = watched(6, &gap("B"));
    assert_eq!(
        (found.tips_a, found.tips_b, found.verdict),
        (6, 6, PairVerdict::BBetter)
    );
    assert!(
        found.score_lo.unwrap() > 0.0 && found.score_e > found.e_needed,
        "{found:?}"
    );
    let said = says(&found);
    let head = "B starts better than A, and you may stop: after 6 tips of A and 6 of B mean score of B less that of A lies between ";
    assert!(
        said.starts_with(head) && said.ends_with("(40 to 1 is needed)."),
        "{said}"
    );
    assert_eq!(watched(6, &gap("A")).verdict, PairVerdict::ABetter);
    let alike = watched(6, &gap("neither"));
    assert_eq!(alike.verdict, PairVerdict::NotEnough);
    assert!(says(&alike).starts_with("Keep striking: after 6 tips of A and 6 of B"));
}

#[test]
fn either_question_may_decide_and_never_against_the_other() {
    let rough = |row: &mut StartRow, tip: usize, k: usize| {
        row.score = Some(usual(tip, k));
        let often = &*row.prep == "B" && !(tip + k).is_multiple_of(8);
        row.verdict = Some(if often { Verdict::Rough } else { Verdict::Fair });
    };
    let by_rough = watched(8, &rough);
    assert_eq!(by_rough.verdict, PairVerdict::ABetter, "{by_rough:?}");
    assert!(by_rough.score_e < 1.0, "{by_rough:?}");
    let against = watched(8, &|row, tip, k| {
        rough(row, tip, k);
        let plus = if &*row.prep == "B" { 15.0 } else { 0.0 };
        row.score = row.score.map(|score| score + plus);
    });
    assert!(
        against.score_e > 40.0 && against.rough_e > 40.0,
        "{against:?}"
    );
    assert_eq!(against.verdict, PairVerdict::NotEnough);
}

#[test]
fn coupons_that_only_one_prep_was_struck_on_compare_nothing() {
    let apart = watched(6, &|row, tip, k| {
        row.coupon = Some(row.prep.clone());
        row.score = Some(usual(tip, k) + if &*row.prep == "B" { 15.0 } else { 0.0 });
    });
    assert_eq!(
        (apart.score_diff, apart.verdict),
        (None, PairVerdict::NotEnough)
    );
}
