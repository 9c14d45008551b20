//! Screening at its limits: lines, alarms, charts, warnings, and what limits wear.

use tipstrike::Error;
use tipstrike::error::ErrorKind;
use tipstrike::flag::Flag;
use tipstrike::measure::Measure;
use tipstrike::measuring::gather::{ReadRecording, StartSet};
use tipstrike::report::words::screen::{answer, notes, why};
use tipstrike::report::words::wear::says;
use tipstrike::score::{StartRow, Verdict};
use tipstrike::study::{Rule, ScreenOptions, Screening, screen};

use super::worn_job;
use crate::study_support::{clean, no_light, screened, start, starts};

#[test]
fn each_recording_has_its_line_the_empty_ones_last() {
    let mut rows = starts("A", &[90.0, 40.0, 0.0, 20.0]);
    rows[2] = no_light("A", 3);
    rows.extend(starts("B", &[90.0]));
    let source = ReadRecording {
        recording: "empty.wav".into(),
        path: "empty.wav".into(),
        identity: None,
        findings: Vec::new(),
    };
    let gathered = StartSet {
        rows,
        sources: vec![source],
        ..StartSet::default()
    };
    let found = screen(&gathered, &ScreenOptions::default()).unwrap();
    let lines: Vec<_> = found
        .recordings
        .iter()
        .map(|l| {
            (
                l.recording.as_str(),
                l.prep.as_str(),
                l.starts,
                l.rough,
                l.no_light,
                l.score_median,
                l.score_worst,
                l.alarms,
            )
        })
        .collect();
    assert_eq!(
        lines,
        [
            ("A.wav", "A", 4, 2, 1, Some(30.0), Some(0.0), 3),
            ("B.wav", "B", 1, 0, 0, Some(90.0), Some(90.0), 0),
            ("empty.wav", "", 0, 0, 0, None, None, 0),
        ]
    );
    assert!(
        answer(&found).starts_with("3 of 5 starts rough, 1 of them did not light."),
        "{}",
        answer(&found)
    );
}

#[test]
fn what_could_not_be_read_keeps_a_batch_from_passing_and_is_no_limit_exceeded() {
    let not_read = vec![(
        "x.wav".to_owned(),
        Error::new(ErrorKind::EmptyFile, "x.wav", "the file is empty"),
    )];
    let gathered = StartSet {
        rows: clean(),
        not_read,
        ..StartSet::default()
    };
    let found = screen(&gathered, &ScreenOptions::default()).unwrap();
    assert_eq!(
        (found.pass, found.over_limits, found.not_read.len()),
        (false, false, 1)
    );
    assert_eq!(
        (
            found.not_read[0].recording.as_str(),
            found.not_read[0].why.as_str()
        ),
        ("x.wav", "x.wav: the file is empty")
    );
    assert!(
        answer(&found).starts_with("30 starts, none rough, none past a limit."),
        "{}",
        answer(&found)
    );
    assert!(
        answer(&found).ends_with(" 1 recording could not be read."),
        "{}",
        answer(&found)
    );
}

#[test]
fn alarms_that_are_no_rough_starts_are_counted_in_the_answer() {
    let past = |scores: &[f64]| {
        let mut rows = clean();
        rows.extend(starts("A", scores).into_iter().map(|row| StartRow {
            start: row.start + 30,
            ..row
        }));
        answer(&screened(rows, &ScreenOptions::default()))
    };
    let once = past(&[77.0; 6]);
    assert!(
        once.starts_with("36 starts, none rough, but 1 start past a limit. Getting worse: score of A from about start 31 of A.wav on."),
        "{once}"
    );
    assert!(past(&[30.0]).starts_with("1 of 31 starts rough; every one lit."));
    // One that is worse than all others is no alarm of a chart: that is what rough is for.
    assert!(past(&[77.0]).starts_with("Clean: 31 starts"));
}

#[test]
fn a_start_is_rough_by_the_rules_that_it_breaks_and_by_no_other() {
    let told = |score: f64, attempts: f64, dropouts: f64| {
        let mut row = start("A", 31, score);
        row.verdict = Some(Verdict::Rough);
        row.measures.set(Measure::Attempts, Some(attempts));
        row.measures.set(Measure::Dropouts, Some(dropouts));
        let mut rows = clean();
        rows.push(row);
        let found = screened(rows, &ScreenOptions::default());
        why(found.alarms.iter().find(|a| a.rule == Rule::Rough).unwrap())
    };
    assert_eq!(told(90.0, 2.0, 1.0), "rough: 1 dropout");
    assert_eq!(told(50.0, 3.0, 0.0), "rough: 3 attempts");
    assert_eq!(told(49.9, 1.0, 0.0), "rough: score under 50");
    assert_eq!(told(90.0, 1.0, 0.0), "rough");
}

#[test]
fn a_short_chart_and_starts_without_a_score_are_said() {
    let said = |rows: Vec<StartRow>, known: bool| {
        let options = ScreenOptions {
            earlier: if known { clean() } else { Vec::new() },
            ..ScreenOptions::default()
        };
        let found = screened(rows, &options);
        (notes(&found), answer(&found))
    };
    let few = "A has 20 starts, too few for a chart of score: it takes 21. Strike more, or go on from earlier starts.";
    assert_eq!(said(clean()[..20].to_vec(), false).0, [few]);
    assert_eq!(said(clean()[..20].to_vec(), true).0, [""; 0]);
    assert_eq!(said(clean()[..21].to_vec(), false).0, [""; 0]);
    let mut rows = clean();
    rows.iter_mut().take(2).for_each(|row| row.score = None);
    let told = said(rows, false).1;
    assert!(
        told.starts_with("2 starts cannot be judged (2 without a score). 28 starts, none rough"),
        "{told}"
    );
}

/// Starts of a described measure or of one with a worse side; the last six lie elsewhere.
fn shifted(measure: &str, rule: Rule, last: f64) -> Vec<Option<f64>> {
    let mut rows = clean();
    for (k, row) in rows.iter_mut().enumerate() {
        let value = if k >= 24 { last } else { 10.0 + (k % 2) as f64 };
        row.measures
            .set(Measure::named(measure).unwrap(), Some(value));
    }
    let options = ScreenOptions {
        charts: vec![measure.into()],
        chart_rule: rule,
        ..ScreenOptions::default()
    };
    let alarms = screened(rows, &options).alarms;
    alarms.iter().map(|a| a.limit).collect()
}

/// NIST/SEMATECH e-Handbook 6.3.2.2: mean ± 2.66 × mean moving range; 10, 11, 10, … gives 10.5 ± 2.66.
#[test]
fn a_chart_alarms_on_the_worse_side_and_on_both_where_none_is_worse() {
    let single = |measure, last| shifted(measure, Rule::Individuals, last);
    let near = |limits: Vec<Option<f64>>, expected: f64| {
        assert_eq!(limits.len(), 6);
        assert!((limits[0].unwrap() - expected).abs() < 0.01, "{limits:?}");
    };
    near(single("wander_v", 14.0), 13.16);
    assert_eq!(single("wander_v", 7.0), []);
    near(single("run_a", 14.0), 13.16);
    near(single("run_a", 7.0), 7.84);
    assert_eq!(single("run_a", 13.1), []);
    assert_eq!(single("run_a", 7.9), []);
    let ranks = |measure, last| shifted(measure, Rule::RankCusum, last).len();
    assert_eq!((ranks("wander_v", 14.0), ranks("wander_v", 7.0)), (1, 0));
    assert_eq!((ranks("run_a", 14.0), ranks("run_a", 7.0)), (1, 1));
}

/// A start that did not light has no start time: on a chart of it it counts as the worst, and is shown so.
#[test]
fn starts_that_did_not_light_stand_on_the_chart() {
    let mut rows = clean();
    rows.iter_mut().for_each(|row| {
        row.measures
            .set(Measure::StartMs, Some(40.0 + f64::from(row.start % 7)))
    });
    rows.extend((31..=36).map(|n| no_light("A", n)));
    let options = ScreenOptions {
        charts: vec!["start_ms".into()],
        ..ScreenOptions::default()
    };
    let found = screened(rows, &options);
    let dark: Vec<_> = found.charts[0].points.iter().filter(|p| !p.lit).collect();
    assert_eq!(dark.len(), 6);
    assert!(dark.iter().all(|p| p.value.is_none()) && dark[5].out);
}

/// 20 + 10 k ms meets 400 ms (built in for DC from 30 A) at 38 and 200 ms at 18.
#[test]
fn a_regrind_limit_is_the_users_then_the_preps_target_and_of_the_score_the_projects() {
    let found = screen(&worn_job(30), &ScreenOptions::default()).unwrap();
    let limit = |found: &Screening, prep: &str, measure: &str| {
        let wear = found
            .regrind
            .iter()
            .find(|w| w.prep == prep && w.measure == measure)
            .unwrap();
        (wear.limit, wear.at)
    };
    assert_eq!(limit(&found, "A", "start_ms"), (Some(400.0), Some(38.0)));
    assert_eq!(limit(&found, "B", "start_ms"), (Some(200.0), Some(18.0)));
    assert_eq!(limit(&found, "A", "score").0, Some(65.0));
    let options = ScreenOptions {
        regrind: [("start_ms".to_owned(), 300.0)].into(),
        ..ScreenOptions::default()
    };
    let found = screen(&worn_job(30), &options).unwrap();
    assert_eq!(limit(&found, "B", "start_ms"), (Some(300.0), Some(28.0)));
    let wear = found.regrind.iter().find(|w| w.measure == "start_ms");
    assert_eq!(
        says(wear.unwrap()),
        "Regrind A after about 28 starts (28 to 28 at 95 %; about this one tip, not the grind): start time of the usual start then meets 300 ms."
    );
}

#[test]
fn a_table_raises_the_alarms_of_its_flags_and_a_job_those_of_its_targets() {
    let mut rows = clean();
    rows[0].flags = vec![Flag::NotSettled];
    let alarms = screened(rows, &ScreenOptions::default()).alarms;
    let told: Vec<_> = alarms
        .iter()
        .map(|a| (a.rule, a.measure.as_str(), a.value, a.limit))
        .collect();
    assert_eq!(told, [(Rule::Target, "start_ms", None, None)]);
    let found = screen(&worn_job(19), &ScreenOptions::default()).unwrap();
    let past: Vec<_> = found
        .alarms
        .iter()
        .flat_map(|a| a.reasons.iter().map(move |reason| (a, reason)))
        .filter(|(_, reason)| reason.rule == Rule::Target)
        .map(|(a, reason)| (&*a.recording, a.start, reason.limit))
        .collect();
    assert_eq!(
        past,
        [("B.wav", 18, Some(200.0)), ("B.wav", 19, Some(200.0))]
    );
}

#[test]
fn nothing_to_screen_is_said() {
    let none = screened(Vec::new(), &ScreenOptions::default());
    assert_eq!(
        (answer(&none).as_str(), none.pass, none.over_limits),
        (
            "No start was found that can be judged: there is nothing to pass.",
            false,
            true
        )
    );
}
