//! The words of an answer, whichever group is the better one.

use tipstrike::measure::Measure;
use tipstrike::report::words::answer;
use tipstrike::score::Verdict;

use super::{compared, compared_by, retries};
use crate::study_support::{said, start, starts};

#[test]
fn the_answer_names_the_better_one_whichever_stands_first() {
    let timed = |prep: &str, from: f64| {
        (0..12)
            .map(|k| {
                let mut row = start(prep, k + 1, 80.0);
                row.measures
                    .set(Measure::StartMs, Some(from + f64::from(k)));
                row
            })
            .collect::<Vec<_>>()
    };
    let rows = [timed("A", 60.0), timed("B", 20.0)].concat();
    let told = answer(&compared_by(&rows, "prep", "start_ms"));
    assert!(
        told.starts_with("B starts faster than A: 40.0 ms sooner (37.0 to 43.0), 0 of 12 starts rough against 0 of 12."),
        "{told}"
    );
    let rows = [timed("A", 20.0), timed("B", 60.0)].concat();
    let told = answer(&compared_by(&rows, "prep", "start_ms"));
    assert!(
        told.starts_with("A starts faster than B: 40.0 ms sooner (37.0 to 43.0)"),
        "{told}"
    );
    let mut rows = starts("A", &[60.0, 61.0, 62.0, 63.0, 64.0, 65.0, 66.0, 67.0]);
    rows.extend(starts(
        "B",
        &[80.0, 81.0, 82.0, 83.0, 84.0, 85.0, 86.0, 87.0],
    ));
    assert!(
        answer(&compared(&rows)).starts_with("B started better than A: 0 of 8 starts rough against 0 of 8, score 20.0 points higher ("),
        "{}",
        answer(&compared(&rows))
    );
}

#[test]
fn ranks_that_differ_at_one_median_are_told_without_a_size() {
    let rows = retries();
    let told = answer(&compared_by(&rows, "prep", "attempts"));
    assert!(
        told.starts_with(
            "A is better than B: 0 of 40 starts rough against 0 of 40, attempts not told apart."
        ),
        "{told}"
    );
}

#[test]
fn too_few_starts_are_told_with_what_they_bound() {
    let mut rows = starts("A", &[90.0, 91.0, 92.0]);
    rows.extend(starts("B", &[60.0, 61.0, 62.0]));
    assert!(answer(&compared(&rows)).starts_with("Not enough starts to tell A from B: 3 against 3 cannot bound a difference at 95 %. Struck were one tip of A and one tip of B, so this is about these tips"));
    let mut rows = starts("A", &[60.0, 70.0, 80.0, 90.0, 75.0]);
    rows.extend(starts("B", &[65.0, 72.0, 82.0, 88.0, 77.0]));
    let found = compared(&rows);
    let pair = &found.pairs[0];
    let bounds = format!(
        "score of B less that of A lies between −{:.0} and {:.0} points. ",
        -pair.shift_lo.unwrap(),
        pair.shift_hi.unwrap()
    );
    assert!(
        answer(&found).starts_with(&format!("Not enough starts to tell A from B: {bounds}")),
        "{}",
        answer(&found)
    );
}

#[test]
fn a_measure_of_one_group_alone_compares_nothing() {
    let mut rows = starts("A", &[90.0, 91.0, 92.0]);
    rows.extend(starts("B", &[60.0, 61.0, 62.0]));
    rows[0].measures.set(Measure::WanderV, Some(0.1));
    let found = compared_by(&rows, "prep", "wander_v");
    assert_eq!(
        answer(&found),
        "wander_v could not be measured in two groups: there is nothing to compare."
    );
    assert_eq!(said(&found), ["wander_v is empty for all starts of B."]);
}

#[test]
fn of_three_groups_the_pairs_that_can_be_told_apart_are_named() {
    let spread = |prep: &str, from: f64, n: usize| {
        starts(
            prep,
            &(0..n)
                .map(|k| from + (k * 7 % n) as f64)
                .collect::<Vec<_>>(),
        )
    };
    let told = |a, b, c, n| {
        answer(&compared(
            &[spread("A", a, n), spread("B", b, n), spread("C", c, n)].concat(),
        ))
    };
    let some = told(60.0, 66.0, 85.0, 9);
    assert!(
        some.starts_with("C is better than A and B in score. "),
        "{some}"
    );
    let some = told(82.0, 80.0, 60.0, 9);
    assert!(
        some.starts_with(
            "In score A is better than C and B is better than C. Not enough to tell A from B. "
        ),
        "{some}"
    );
    let none = told(60.0, 61.0, 62.0, 5);
    assert!(
        none.starts_with(
            "No winner yet in score. Not enough to tell A from B, A from C and B from C. "
        ),
        "{none}"
    );
    let alike = answer(&compared(
        &["A", "B", "C"]
            .map(|prep| starts(prep, &[90.0; 60]))
            .concat(),
    ));
    // Alike in rough starts too: none of 60 against none of 60 is ±1.96²/(60 + 1.96²) = 6.0 in 100 by Newcombe's
    // interval, on paper, under the 10 that matter.
    assert!(
        alike.starts_with(
            "No difference worth having in score between any two of them. Tips: A 1, B 1, C 1. A, B and C have one tip each, so what "
        ),
        "{alike}"
    );
}

/// Fisher's exact test on 18 of 60 against 2 of 60 gives p < 0.001, on 4 of 20 against 0 of 20 p = 0.106 (from memory of the
/// hypergeometric: 2 × C(20,4)/C(40,4)).
#[test]
fn rough_starts_win_on_their_own_only_where_they_are_clear() {
    let group = |prep: &str, rough: usize, n: usize| {
        let mut rows = starts(
            prep,
            &(0..n)
                .map(|k| 85.0 + (k * 7 % 5) as f64)
                .collect::<Vec<_>>(),
        );
        rows.iter_mut()
            .take(rough)
            .for_each(|row| row.verdict = Some(Verdict::Rough));
        rows
    };
    let told = |a, b, n| answer(&compared(&[group("A", a, n), group("B", b, n)].concat()));
    assert!(
        told(2, 18, 60)
            .starts_with("A has fewer rough starts than B (3.3 % against 30 %); in score they cannot be told apart."),
        "{}",
        told(2, 18, 60)
    );
    assert!(told(18, 2, 60).starts_with("B has fewer rough starts than A ("));
    assert!(
        told(0, 4, 20).starts_with("The usual start of A and B is alike"),
        "{}",
        told(0, 4, 20)
    );
}

#[test]
fn a_measure_that_no_start_has_is_known_all_the_same() {
    let rows = [starts("A", &[80.0]), starts("B", &[80.0])].concat();
    assert!(
        answer(&compared_by(&rows, "prep", "start_ms"))
            .starts_with("start_ms could not be measured in two groups")
    );
}
