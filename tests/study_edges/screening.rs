//! Screening at its limits: lines, alarms, charts, warnings, and what limits wear.

use tipstrike::Error;
use tipstrike::flag::Flag;
use tipstrike::measure::Measure;
use tipstrike::measuring::gather::{ReadRecording, StartSet};
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
        found
            .answer
            .starts_with("3 of 5 starts rough, 1 of them did not light."),
        "{}",
        found.answer
    );
}

#[test]
fn what_could_not_be_read_keeps_a_batch_from_passing_and_is_no_limit_exceeded() {
    let not_read = vec![(
        "x.wav".to_owned(),
        Error::input("x.wav", "the file is empty"),
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
        found
            .answer
            .starts_with("30 starts, none rough, but not all could be judged."),
        "{}",
        found.answer
    );
    assert!(
        found.answer.ends_with(" 1 recording could not be read."),
        "{}",
        found.answer
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
        screened(
            rows,
            &ScreenOptions {
                baseline: 30,
                ..ScreenOptions::default()
            },
        )
    };
    let once = past(&[77.0]);
    assert_eq!(once.alarms.len(), 1, "{:?}", once.alarms);
    assert!(
        once.answer
            .starts_with("31 starts, none rough, but once past a limit."),
        "{}",
        once.answer
    );
    let twice = past(&[77.0, 90.0, 90.0, 90.0, 77.0]);
    assert!(
        twice
            .answer
            .contains(&format!("but {} times past a limit.", twice.alarms.len())),
        "{}",
        twice.answer
    );
    assert!(
        past(&[30.0])
            .answer
            .starts_with("1 of 31 starts rough; every one lit.")
    );
}

#[test]
fn a_start_is_rough_by_the_rules_that_it_breaks_and_by_no_other() {
    let why = |score: f64, attempts: f64, dropouts: f64| {
        let mut row = start("A", 31, score);
        row.verdict = Some(Verdict::Rough);
        (row.measures.attempts, row.measures.dropouts) = (Some(attempts), Some(dropouts));
        let mut rows = clean();
        rows.push(row);
        let found = screened(rows, &ScreenOptions::default());
        found
            .alarms
            .iter()
            .find(|a| a.rule == Rule::Rough)
            .unwrap()
            .why
            .clone()
    };
    assert_eq!(why(90.0, 2.0, 1.0), "rough: 1 dropout");
    assert_eq!(why(50.0, 3.0, 0.0), "rough: 3 attempts");
    assert_eq!(why(49.9, 1.0, 0.0), "rough: score under 50");
    assert_eq!(why(90.0, 1.0, 0.0), "rough");
}

#[test]
fn a_short_chart_and_starts_without_a_score_are_said() {
    let warned = |rows: Vec<StartRow>, known: bool| {
        let options = ScreenOptions {
            baseline_rows: known.then(clean),
            ..ScreenOptions::default()
        };
        screened(rows, &options).warnings
    };
    let few = "A has 19 starts on its chart, fewer than the 20 that its limits should come from.";
    assert_eq!(warned(clean()[..19].to_vec(), false), [few]);
    assert_eq!(warned(clean()[..19].to_vec(), true), [""; 0]);
    assert_eq!(warned(clean()[..20].to_vec(), false), [""; 0]);
    let mut rows = clean();
    rows.iter_mut().take(2).for_each(|row| row.score = None);
    assert_eq!(
        warned(rows.clone(), false),
        ["2 starts without a score could not be judged."]
    );
    rows[0].score = Some(90.0);
    assert_eq!(
        warned(rows, false),
        ["1 start without a score could not be judged."]
    );
}

/// Eleven starts of a described measure or of one with a worse side; the twelfth lies far out.
fn out_of_line(measure: &str, last: f64) -> Vec<Option<f64>> {
    let mut rows = clean();
    for (k, row) in rows.iter_mut().enumerate() {
        row.measures.set(
            Measure::named(measure).unwrap(),
            Some(if k == 29 { last } else { 10.0 + (k % 2) as f64 }),
        );
    }
    let options = ScreenOptions {
        charts: vec![measure.into()],
        ..ScreenOptions::default()
    };
    let alarms = screened(rows, &options).alarms;
    let single = alarms.iter().filter(|a| a.rule == Rule::Individuals);
    single.map(|a| a.limit).collect()
}

/// NIST/SEMATECH e-Handbook 6.3.2.2: mean ± 2.66 × mean moving range; 10, 11, 10, … gives 10.5 ± 2.66.
#[test]
fn a_chart_alarms_on_the_worse_side_and_on_both_where_none_is_worse() {
    let near = |limits: Vec<Option<f64>>, expected: f64| {
        assert_eq!(limits.len(), 1);
        assert!((limits[0].unwrap() - expected).abs() < 0.01, "{limits:?}");
    };
    near(out_of_line("wander_v", 14.0), 13.16);
    assert_eq!(out_of_line("wander_v", 7.0), []);
    near(out_of_line("run_a", 14.0), 13.16);
    near(out_of_line("run_a", 7.0), 7.84);
    assert_eq!(out_of_line("run_a", 13.1), []);
    assert_eq!(out_of_line("run_a", 7.9), []);
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
        .filter(|a| a.rule == Rule::Target)
        .map(|a| (a.recording.as_str(), a.start, a.limit))
        .collect();
    assert_eq!(
        past,
        [("B.wav", 18, Some(200.0)), ("B.wav", 19, Some(200.0))]
    );
}

#[test]
fn nothing_to_screen_is_said_and_a_value_at_a_limit_is_within_it() {
    let none = screened(Vec::new(), &ScreenOptions::default());
    assert_eq!(
        (none.answer.as_str(), none.pass, none.over_limits),
        ("No start was found: there is nothing to pass.", false, true)
    );
    let with = |values: [f64; 2]| {
        let mut known = clean();
        known
            .iter_mut()
            .enumerate()
            .for_each(|(k, row)| row.measures.run_a = Some(10.0 + (k % 2) as f64));
        let mut rows = starts("A", &[90.0, 90.0]);
        rows.iter_mut()
            .zip(values)
            .for_each(|(row, value)| row.measures.run_a = Some(value));
        let options = ScreenOptions {
            charts: vec!["run_a".into()],
            baseline_rows: Some(known),
            ..ScreenOptions::default()
        };
        screened(rows, &options)
    };
    let chart = with([10.0, 11.0]).groups.remove(0);
    let at = with([chart.upper, chart.lower]).alarms;
    assert!(at.iter().all(|a| a.rule != Rule::Individuals), "{at:?}");
    let past = with([chart.upper + 1e-6, chart.lower - 1e-6]).alarms;
    assert_eq!(
        past.iter().filter(|a| a.rule == Rule::Individuals).count(),
        2
    );
}
