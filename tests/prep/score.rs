//! Targets and score: what a start is held against, and what comes of it.

use std::path::PathBuf;

use approx::assert_abs_diff_eq;
use proptest::prelude::*;
use tipstrike::flag::Flag;
use tipstrike::job::{Job, Process, Run, TARGET_MEASURES};
use tipstrike::measure::{Measure, Measures};
use tipstrike::score::{
    Score, StartRow, Verdict, desirability, explain, overall, start_row, targets_for,
};
use tipstrike::start::{Instants, Start};

pub(super) const PREPS: &str = "[prep.A]\ntip = \"point\"\n[prep.B]\ntip = \"balled\"\n";

pub(super) fn job(text: &str) -> Job {
    Job::parse(text, "job.toml", PathBuf::new()).unwrap_or_else(|e| panic!("{e}"))
}

pub(super) fn run(prep: &str) -> Run {
    Run {
        number: 1,
        file: "a.wav".to_owned(),
        prep: prep.to_owned(),
        set_a: Some(80.0),
        process: Some(Process::Dc),
        ..Run::default()
    }
}

/// A start as good as the built-in targets ask at 80 A DC.
pub(super) fn good_start() -> Start {
    Start {
        instants: Instants {
            t_first_s: Some(1.0),
            t_lit_s: Some(1.001),
            ..Instants::default()
        },
        measures: Measures {
            start_ms: Some(50.0),
            attempts: Some(1.0),
            overshoot_pct: Some(5.0),
            dropouts: Some(0.0),
            touches: Some(0.0),
            wander_v: Some(0.1),
            run_a: Some(80.0),
            ..Measures::default()
        },
        flags: Vec::new(),
        doubts: Vec::new(),
        preview: None,
    }
}

pub(super) fn row(job: &Job, run: &Run, start: &Start) -> (StartRow, Score) {
    let (row, score) = start_row(job, run, 1, start);
    (row, score.expect("something could be measured"))
}

/// Tyre-tread example of Derringer & Suich 1980: Y = 129.5, 1300, 465.7, 68 gives D = 0.583.
/// From memory; the text was not at hand. Larger-is-better is ours with the sign turned.
#[test]
fn the_worked_example_of_derringer_and_suich_comes_out() {
    let d = [
        desirability(-129.5, -170.0, -120.0, 1.0),
        desirability(-1300.0, -1300.0, -1000.0, 1.0),
        desirability(-465.7, -500.0, -400.0, 1.0),
        desirability(68.0, 67.5, 75.0, 1.0),
    ];
    assert_abs_diff_eq!(d[0], 0.19, epsilon = 1e-12);
    assert_abs_diff_eq!(
        overall(d.map(|d| (d, 1.0))).unwrap(),
        0.583,
        epsilon = 0.002
    );
}

/// NIST/SEMATECH e-Handbook 5.5.3.2.2: 0.34, 1.0, 0.49, 0.76 together are 0.596. From memory.
#[test]
fn the_worked_example_of_the_nist_handbook_comes_out() {
    let d = [0.34, 1.0, 0.49, 0.76].map(|d| (d, 1.0));
    assert_abs_diff_eq!(overall(d).unwrap(), 0.596, epsilon = 0.001);
}

/// Analytic: a weight of 2 counts like the measure twice; shape is the exponent.
#[test]
fn weights_and_shapes_do_what_their_names_say() {
    let twice = overall([(0.5, 1.0), (0.5, 1.0), (0.8, 1.0)]);
    assert_abs_diff_eq!(
        overall([(0.5, 2.0), (0.8, 1.0)]).unwrap(),
        twice.unwrap(),
        epsilon = 1e-12
    );
    assert_abs_diff_eq!(desirability(75.0, 50.0, 100.0, 2.0), 0.25, epsilon = 1e-12);
    assert_eq!(desirability(40.0, 50.0, 100.0, 2.0), 1.0);
    assert_eq!(desirability(100.0, 50.0, 100.0, 2.0), 0.0);
    assert_eq!(overall([(0.0, 1.0), (1.0, 1.0)]), Some(0.0));
    assert_eq!(
        overall([(0.0, 0.0), (1.0, 1.0)]),
        Some(1.0),
        "no weight, no say"
    );
    assert_eq!(overall([(1.0, 0.0)]), None);
}

#[test]
fn a_start_within_every_target_is_crisp_and_scores_a_hundred() {
    let (row, score) = row(&job(PREPS), &run("A"), &good_start());
    assert_abs_diff_eq!(score.value, 100.0, epsilon = 1e-9);
    assert_eq!(row.verdict, Some(Verdict::Crisp));
    assert!(row.flags.is_empty(), "{:?}", row.flags);
}

#[test]
fn a_score_is_the_weighted_geometric_mean_of_its_parts() {
    let mut start = good_start();
    // Half way from 60 to 400 ms, weight 3 of 11.
    start.measures.start_ms = Some(230.0);
    let (_, score) = row(&job(PREPS), &run("A"), &start);
    assert_abs_diff_eq!(
        score.value,
        100.0 * 0.5_f64.powf(3.0 / 11.0),
        epsilon = 1e-9
    );
    let part = score
        .parts
        .iter()
        .find(|p| p.measure == Measure::StartMs)
        .unwrap();
    assert_abs_diff_eq!(part.cost, 100.0 - score.value, epsilon = 1e-9);
}

#[test]
fn no_light_scores_zero_and_not_settled_has_no_start_time_to_be_proud_of() {
    let mut start = good_start();
    start.measures.start_ms = None;
    start.flags = vec![Flag::NotSettled];
    let (at, score) = row(&job(PREPS), &run("A"), &start);
    assert_eq!((score.value, at.verdict), (0.0, Some(Verdict::Rough)));
    start.instants.t_lit_s = None;
    let (at, score) = row(&job(PREPS), &run("A"), &start);
    assert_eq!((score.value, at.verdict), (0.0, Some(Verdict::NoLight)));
}

#[test]
fn an_empty_measure_drops_out_with_its_weight_and_is_listed() {
    let mut start = good_start();
    start.measures.wander_v = None;
    start.measures.start_ms = Some(230.0);
    let (at, score) = row(&job(PREPS), &run("A"), &start);
    assert_eq!(score.missing, [Measure::WanderV]);
    assert_abs_diff_eq!(score.value, 100.0 * 0.5_f64.powf(3.0 / 9.0), epsilon = 1e-9);
    let said = explain(&at, &score).join("\n");
    assert!(said.contains("made of 5 of 6 measures"), "{said}");
}

#[test]
fn a_start_of_which_nothing_could_be_measured_has_no_score() {
    let start = Start {
        measures: Measures::default(),
        ..good_start()
    };
    let (row, score) = start_row(&job(PREPS), &run("A"), 1, &start);
    assert_eq!((row.score, row.verdict, score), (None, None, None));
}

#[test]
fn verdict_words_follow_their_rules() {
    let cases: [(Measure, f64, Verdict); 5] = [
        (Measure::Dropouts, 1.0, Verdict::Rough),
        (Measure::Attempts, 2.0, Verdict::Fair),
        (Measure::Attempts, 3.0, Verdict::Rough),
        (Measure::StartMs, 390.0, Verdict::Rough),
        (Measure::StartMs, 300.0, Verdict::Fair),
    ];
    for (measure, value, verdict) in cases {
        let mut start = good_start();
        start.measures.set(measure, Some(value));
        let (row, score) = row(&job(PREPS), &run("A"), &start);
        assert_eq!(row.verdict, Some(verdict), "{measure} {value}: {score:?}");
    }
    let lenient = job(&format!("{PREPS}\n[targets]\nrough_attempts = 3\n"));
    let mut start = good_start();
    start.measures.attempts = Some(3.0);
    assert_eq!(
        row(&lenient, &run("A"), &start).0.verdict,
        Some(Verdict::Fair)
    );
}

#[test]
fn targets_come_from_the_prep_then_the_job_then_the_built_in_table() {
    let job = job(&format!(
        "{PREPS}\n[targets]\nstart_ms = {{ good = 100, poor = 500 }}\nwander_v = {{ weight = 5 }}\n\
         [prep.B.targets]\nstart_ms = {{ good = 20, poor = 90, shape = 2 }}\ndelay_ms = {{ good = 5, poor = 50 }}\n"
    ));
    let start = good_start();
    let a = targets_for(&job, &run("A"), &start);
    let b = targets_for(&job, &run("B"), &start);
    let (ours, theirs) = (
        a.get(Measure::StartMs).unwrap(),
        b.get(Measure::StartMs).unwrap(),
    );
    assert_eq!(
        (ours.good, ours.poor, &*ours.origin),
        (100.0, 500.0, "[targets]")
    );
    assert_eq!((theirs.good, theirs.shape), (20.0, 2.0));
    assert_eq!(&*theirs.origin, "[prep.B.targets]");
    assert_eq!(
        theirs.weight, 3.0,
        "what a level leaves out comes from below"
    );
    let wander = a.get(Measure::WanderV).unwrap();
    assert_eq!((wander.weight, wander.poor), (5.0, 1.0));
    assert_eq!(
        &*wander.origin,
        "[targets], the rest built in (DC, 30 to 150 A)"
    );
    assert_eq!(
        (
            a.get(Measure::DelayMs),
            b.get(Measure::DelayMs).map(|t| t.weight)
        ),
        (None, Some(1.0))
    );
    assert_eq!(
        &*b.get(Measure::OvershootPct).unwrap().origin,
        "built in (DC, 30 to 150 A, blunt tip)"
    );
}

#[test]
fn targets_that_make_no_sense_are_refused() {
    for (text, part) in [
        (
            "start_ms = { good = 400, poor = 60 }",
            "good must be below poor",
        ),
        ("start_ms = { good = 900 }", "good must be below poor"),
        (
            "delay_ms = { good = 5 }",
            "no built-in target to complete this one",
        ),
        (
            "run_a = { good = 5, poor = 9 }",
            "not a measure that can have a target",
        ),
        ("start_ms = { weight = -1 }", "weight = -1"),
        ("start_ms = { shape = 0 }", "shape = 0"),
        ("rough_attempts = 0", "rough_attempts = 0"),
        ("rough_attempts = 1.5", "rough_attempts = 1.5"),
        (
            "start_ms.weight = 0\nattempts.weight = 0\ndropouts.weight = 0\ntouches.weight = 0\n\
             wander_v.weight = 0\novershoot_pct.weight = 0",
            "every target has weight 0",
        ),
    ] {
        let text = format!("{PREPS}\n[targets]\n{text}\n");
        let said = Job::parse(&text, "job.toml", PathBuf::new())
            .unwrap_err()
            .to_string();
        assert!(said.contains(part) && said.contains("[targets]"), "{said}");
    }
}

#[test]
fn two_preps_that_differ_only_by_targets_differ_only_by_score() {
    let job = job("[prep.A]\n[prep.B.targets]\nstart_ms = { good = 10, poor = 60 }\n");
    let (a, _) = row(&job, &run("A"), &good_start());
    let (mut b, _) = row(&job, &run("B"), &good_start());
    assert_ne!(a.score, b.score);
    (b.prep, b.score, b.verdict) = (a.prep.clone(), a.score, a.verdict);
    assert_eq!(a, b);
}

#[test]
fn flags_that_depend_on_targets_and_sheet_are_set() {
    let mut start = good_start();
    for (measure, value) in [
        (Measure::StartMs, 401.0),
        (Measure::Attempts, 2.0),
        (Measure::OvershootPct, 81.0),
        (Measure::Dropouts, 1.0),
        (Measure::Touches, 1.0),
        (Measure::WanderV, 1.1),
        (Measure::EnSharePct, 55.0),
    ] {
        start.measures.set(measure, Some(value));
    }
    let run = Run {
        set_en_pct: Some(68.0),
        ..run("A")
    };
    let (row, _) = row(&job(PREPS), &run, &start);
    let expected = [
        Flag::BalanceOff,
        Flag::Touch,
        Flag::Retry,
        Flag::Dropout,
        Flag::Wander,
        Flag::Slow,
        Flag::Overshoot,
    ];
    assert_eq!(row.flags, expected);
}

#[test]
fn starts_since_regrind_count_on_from_the_sheets_number() {
    let run = Run {
        since_regrind: Some(11),
        ..run("A")
    };
    let job = job(PREPS);
    let (first, _) = start_row(&job, &run, 1, &good_start());
    let (fifth, _) = start_row(&job, &run, 5, &good_start());
    assert_eq!(first.measures.since_regrind(), Some(11.0));
    assert_eq!(fifth.measures.since_regrind(), Some(15.0));
}

#[test]
fn recordings_without_a_job_are_scored_by_the_built_in_targets_of_what_was_measured() {
    let job = Job::bare(Default::default(), Default::default());
    let run = Run::bare(1, "some/a.wav".as_ref());
    let mut start = good_start();
    let origin = |start: &Start| targets_for(&job, &run, start).list[0].origin.to_string();
    assert_eq!(origin(&start), "built in (DC, 30 to 150 A)");
    start.measures.ac_hz = Some(120.0);
    start.measures.run_a = Some(170.0);
    assert_eq!(origin(&start), "built in (AC, 150 A and over)");
    let (row, _) = row(&job, &run, &start);
    assert_eq!((&*row.prep, &*row.recording), ("-", "a.wav"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the targets and the start, a worse measure never gives a better score.
    #[test]
    fn the_score_never_moves_the_wrong_way(
        which in 0..TARGET_MEASURES.len(),
        values in prop::array::uniform17(0.0..500.0_f64),
        worse in 0.0..500.0_f64,
        good in 0.0..300.0_f64,
        span in 0.1..300.0_f64,
        shape in 0.1..5.0_f64,
        weight in 0.0..5.0_f64,
        ac in any::<bool>(),
    ) {
        let measure = TARGET_MEASURES[which];
        let target = format!(
            "[prep.A]\n[targets]\n{measure} = {{ good = {good}, poor = {}, shape = {shape}, weight = {weight} }}\n",
            good + span
        );
        let job = job(&target);
        let mut run = run("A");
        run.process = Some(if ac { Process::Ac } else { Process::Dc });
        let mut start = good_start();
        for (name, value) in TARGET_MEASURES.iter().zip(values) {
            // Small enough that not every score is 0.
            start.measures.set(*name, Some(value / 400.0));
        }
        start.measures.set(measure, Some(values[which]));
        let (_, before) = row(&job, &run, &start);
        start.measures.set(measure, Some(values[which] + worse));
        let (_, after) = row(&job, &run, &start);
        prop_assert!(after.value <= before.value + 1e-9, "{} to {}", before.value, after.value);
        prop_assert!((0.0..=100.0 + 1e-9).contains(&before.value));
    }
}
