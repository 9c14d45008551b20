use super::*;
use crate::fixtures::made_job;
use crate::measure::Measure;
use crate::measuring::gather::{Detail, StartSet};
use crate::study::{CompareOptions, ScreenOptions, Warning, Withheld, compare_rows, screen};

fn compared() -> Comparison {
    let (mut rows, _) = made_job(24, false);
    for row in &mut rows {
        row.prep = if row.run == 1 { "A" } else { "B" }.into();
        row.tip_id = Some(format!("{}{}", row.prep, row.start % 6).into());
    }
    compare_rows(&rows, &CompareOptions::default()).unwrap()
}

/// A comparison whose pairs have this verdict, and no rate that differs.
fn with(verdict: PairVerdict) -> Comparison {
    let mut comparison = compared();
    for pair in &mut comparison.pairs {
        pair.verdict = verdict;
        pair.withheld = None::<Withheld>;
    }
    comparison.rates.iter_mut().for_each(|rate| rate.p = 1.0);
    comparison.warnings.clear();
    comparison
}

#[test]
fn a_clear_difference_names_the_better_one_first() {
    let said = of_comparison(&with(PairVerdict::ABetter));
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("A better than B", Tone::Clear)
    );
    // What a welder feels comes first, the score last.
    let at = |words: &str| said.reason.find(words);
    assert!(
        at("start").or(at("sooner")) < at("score"),
        "{}",
        said.reason
    );
    assert!(
        said.reason.contains("; from 6 tips each"),
        "{}",
        said.reason
    );
    let said = of_comparison(&with(PairVerdict::BBetter));
    assert_eq!(said.words, "B better than A");
}

#[test]
fn not_enough_cannot_be_told_yet_and_alike_is_no_difference() {
    let said = of_comparison(&with(PairVerdict::NotEnough));
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("Too early to tell: A or B", Tone::Open)
    );
    let said = of_comparison(&with(PairVerdict::NoDifference));
    assert_eq!(said.words, "No difference worth having between A and B");
}

#[test]
fn what_something_else_may_explain_is_doubtful() {
    let mut comparison = with(PairVerdict::ABetter);
    comparison.warnings.push(Warning::Amps {
        low: ("A".to_owned(), 80.0),
        high: ("B".to_owned(), 95.0),
    });
    let said = of_comparison(&comparison);
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("A better than B, but doubtful", Tone::Open)
    );
    assert!(
        said.reason.ends_with("But the amps may explain it."),
        "{}",
        said.reason
    );
    // What only limits how far the answer reaches makes it no less sure.
    comparison.warnings = vec![Warning::UnequalTips {
        few: "A".to_owned(),
        many: "B".to_owned(),
        most: 6,
    }];
    assert_eq!(of_comparison(&comparison).words, "A better than B");
}

#[test]
fn scores_on_different_targets_make_no_headline() {
    let mut comparison = with(PairVerdict::ABetter);
    for pair in comparison
        .pairs
        .iter_mut()
        .filter(|pair| pair.measure == "start_ms")
    {
        pair.verdict = PairVerdict::NotEnough;
    }
    comparison.warnings.push(Warning::Targets);
    let said = of_comparison(&comparison);
    assert_eq!(said.words, "Too early to tell: A or B");
    assert!(
        said.reason
            .starts_with("Their scores are held against different targets")
    );
    for pair in &mut comparison.pairs {
        pair.verdict = PairVerdict::BBetter;
    }
    assert_eq!(of_comparison(&comparison).words, "B starts faster than A");
}

#[test]
fn more_doubtful_starts_than_others_give_no_verdict() {
    let mut comparison = with(PairVerdict::ABetter);
    comparison.doubtful = 100;
    let said = of_comparison(&comparison);
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("Doubtful: no verdict", Tone::Open)
    );
}

#[test]
fn a_screening_passes_fails_or_is_doubtful_in_capitals() {
    let (mut rows, details) = made_job(24, false);
    let screened = |rows: &[StartRow]| {
        let set = StartSet {
            rows: rows.to_vec(),
            details: vec![Detail::default(); details.len()],
            ..StartSet::default()
        };
        of_screening(&screen(&set, &ScreenOptions::default()).unwrap())
    };
    let said = screened(&rows);
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("NOT PASSED", Tone::Failed)
    );
    for row in &mut rows {
        (row.verdict, row.score) = (Some(Verdict::Crisp), Some(100.0));
        row.instants.t_lit_s = Some(0.3);
        row.flags.clear();
        row.measures.set(Measure::Dropouts, Some(0.0));
    }
    let said = screened(&rows);
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("PASSED", Tone::Clear),
        "{}",
        said.reason
    );
    rows[3].doubt = Some("the zero moved".into());
    rows[3].verdict = Some(Verdict::Doubtful);
    let said = screened(&rows);
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("NOT PASSED: doubtful", Tone::Open)
    );
}

#[test]
fn rough_starts_and_those_that_did_not_light_do_not_contradict_each_other() {
    assert_eq!(rough_words(0, 0), "none rough");
    assert_eq!(rough_words(5, 0), "5 rough");
    assert_eq!(rough_words(5, 1), "5 rough, 1 of them did not light");
    assert_eq!(rough_words(2, 2), "2 rough, all did not light");
    assert_eq!(rough_words(1, 1), "1 rough, it did not light");
}

#[test]
fn starts_of_a_part_are_told_in_one_sentence() {
    let (rows, _) = made_job(24, false);
    let crisp: Vec<StartRow> = rows
        .iter()
        .filter(|row| row.verdict == Some(Verdict::Crisp))
        .cloned()
        .collect();
    let said = of_starts(&crisp[..3], None);
    assert_eq!(
        (said.words.as_str(), said.tone),
        ("3 starts, all crisp", Tone::Clear)
    );
    let rough = rows
        .iter()
        .find(|row| row.verdict == Some(Verdict::Rough))
        .unwrap();
    let mixed = [crisp[0].clone(), rough.clone()];
    let said = of_starts(&mixed, Some("Why.".to_owned()));
    assert_eq!(
        (said.words.as_str(), said.reason.as_str()),
        ("1 rough of 2 starts", "Why.")
    );
    assert_eq!(of_starts(&[], None).words, "No start was found");
}
