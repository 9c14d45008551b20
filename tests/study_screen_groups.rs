//! Screening by groups, by rates and by samples, and the charts for normal values.

use crate::study_support::{clean, no_light, screened, start, starts};
use tipstrike::measure::Measure;
use tipstrike::report::words::screen::{answer, verdict};
use tipstrike::score::StartRow;
use tipstrike::study::{Rule, SamplingOptions, ScreenOptions};

#[test]
fn sampling_judges_all_that_was_measured() {
    let sampling = |lot| ScreenOptions {
        sampling: Some(SamplingOptions { aql: 2.5, lot }),
        ..ScreenOptions::default()
    };
    // A lot of 30 is letter D; AQL 2.5 then takes 5 (arrow to letter C). All 30 were measured: 2.5 % of
    // them is no whole start.
    let passed = screened(clean(), &sampling(None)).sampling.unwrap();
    assert_eq!(
        (passed.letter, passed.n, passed.accept, passed.judged),
        ('D', 5, 0, 30)
    );
    assert_eq!(passed.accepted, Some(true));
    // A lot of 1200 is letter J: 80 are asked for, 30 are there.
    let small = screened(clean(), &sampling(Some(1200)));
    assert_eq!(small.sampling.as_ref().unwrap().accepted, None);
    assert!(!small.pass);
    // Twelve rough ones of 200, spread out: no draw lets them through, whether the lot is they or larger.
    // Letter L at AQL 2.5 takes 200 and allows 10.
    let mut rows = starts("A", &[90.0; 200]);
    rows.iter_mut()
        .step_by(17)
        .for_each(|row| *row = no_light("A", row.start));
    for (lot, allowed) in [(None, 5), (Some(1200), 10)] {
        let sampling = screened(rows.clone(), &sampling(lot)).sampling.unwrap();
        assert_eq!(
            (sampling.rough, sampling.accept, sampling.accepted),
            (12, allowed, Some(false))
        );
    }
}

/// Clopper and Pearson's one-sided bound: without a rough start 1 − 0.05^(1/n), so that 2 % takes
/// ln 0.05 / ln 0.98 = 148.3, 149 starts (the success run).
#[test]
fn an_accepted_rate_passes_where_the_starts_show_it() {
    let accept = |starts_of: Vec<StartRow>| {
        let options = ScreenOptions {
            accept: Some(0.02),
            ..ScreenOptions::default()
        };
        screened(starts_of, &options)
    };
    let good = |n: usize| starts("A", &vec![90.0; n]);
    assert!(accept(good(149)).pass);
    let few = accept(good(148));
    assert!(!few.pass && few.groups[0].pass);
    assert_eq!(few.accepted.as_ref().unwrap().needed, 149);
    assert!(
        answer(&few).contains("It would take 149 starts with no more rough ones."),
        "{}",
        answer(&few)
    );
    // One rough start of 400 shows it too, and is still listed.
    let mut rows = good(400);
    rows[100] = start("A", 101, 20.0);
    let one = accept(rows);
    assert!(one.pass && one.alarms.len() == 1, "{}", answer(&one));
    assert!(answer(&one).starts_with("1 of 400 starts rough; every one lit."));
}

#[test]
fn the_answer_says_what_the_sample_showed() {
    let sampled = |rows: Vec<StartRow>, lot| {
        let options = ScreenOptions {
            sampling: Some(SamplingOptions { aql: 2.5, lot }),
            ..ScreenOptions::default()
        };
        answer(&screened(rows, &options))
    };
    let passes = sampled(clean(), None);
    let plan =
        "0 rough of 30 judged in a lot of 30, up to 0 allowed (ISO 2859-1, letter D, AQL 2.5)";
    assert!(
        passes.contains(&format!("The sample passes: {plan}.")),
        "{passes}"
    );
    let small = sampled(clean(), Some(1200));
    assert!(
        small.contains("The sample is too small, the plan asks for 80"),
        "{small}"
    );
    let rough = sampled((1..=30).map(|n| no_light("A", n)).collect(), None);
    assert!(
        rough.contains("The sample fails: 30 rough of 30"),
        "{rough}"
    );
}

#[test]
fn starts_that_cannot_be_judged_are_counted_apart_and_keep_a_batch_from_passing() {
    let mut rows = clean();
    rows[4].doubt = Some("the current falls without a reason".into());
    rows[4].score = Some(0.0);
    rows[9].exclude = Some("fumbled".into());
    rows[9].verdict = Some(tipstrike::score::Verdict::Rough);
    let found = screened(rows, &ScreenOptions::default());
    assert_eq!((found.starts, found.rough, found.alarms.len()), (28, 0, 0));
    assert_eq!((found.doubtful, found.set_aside), (1, 1));
    assert!(!found.pass && found.over_limits && !found.groups[0].pass);
    assert!(
        verdict(&found).starts_with(
            "NOT PASSED: 2 starts cannot be judged (1 doubtful, 1 set aside). 28 starts, none rough, none past a limit."
        ),
        "{}",
        verdict(&found)
    );
}

#[test]
fn groups_of_several_columns_stand_worst_first() {
    let mut rows = Vec::new();
    for (cell, shift, bad) in [
        ("3", "day", 0),
        ("3", "night", 3),
        ("7", "day", 0),
        ("7", "night", 1),
    ] {
        for n in 1..=30 {
            let mut row = start("A", n, if n > 5 && n <= 5 + bad { 30.0 } else { 90.0 });
            row.recording = format!("{cell}/{shift}.wav").into();
            row.cell = Some(cell.into());
            row.shift = Some(shift.into());
            row.date = Some("2026-03-02".into());
            row.tip_id = Some(format!("A{}", n / 16).into());
            rows.push(row);
        }
    }
    let options = ScreenOptions {
        by: vec!["cell".into(), "shift".into()],
        ..ScreenOptions::default()
    };
    let found = screened(rows, &options);
    let lines: Vec<_> = found
        .groups
        .iter()
        .map(|g| (g.id.as_str(), g.pass, g.rough, g.tips))
        .collect();
    assert_eq!(
        lines,
        [
            ("3, night", false, 3, Some(2)),
            ("7, night", false, 1, Some(2)),
            ("3, day", true, 0, Some(2)),
            ("7, day", true, 0, Some(2))
        ]
    );
    // Clopper–Pearson of 3 in 30: 0.0211 to 0.2653 (SciPy's binomtest, `proportion_ci(0.95, "exact")`).
    let worst = &found.groups[0];
    assert!((worst.rough_lo.unwrap() - 0.0211).abs() < 1e-4);
    assert!((worst.rough_hi.unwrap() - 0.2653).abs() < 1e-4);
    let alarm = &found.alarms[0];
    assert_eq!(
        (
            alarm.group.as_str(),
            &*alarm.recording,
            alarm.tip_id.as_deref(),
            alarm.date.as_deref()
        ),
        ("3, night", "3/night.wav", Some("A0"), Some("2026-03-02"))
    );
    assert!(answer(&found).contains("2 of 4 by cell and shift not clean, worst first: 3, night (3 of 30 rough); 7, night (1 of 30 rough)."));
}

/// NIST/SEMATECH e-Handbook 6.3.2: single values lie within 3 sigma, their moving average within
/// 3 sigma·√(λ/(2 − λ)·(1 − (1 − λ)^2i)): a fifth of that at the first start (λ = 0.2), in the long run a third.
#[test]
fn limits_of_the_moving_average_are_exact_from_the_first_start_on() {
    let chart = |rule| {
        let options = ScreenOptions {
            chart_rule: rule,
            charts: vec!["run_a".into()],
            ..ScreenOptions::default()
        };
        let mut rows = clean();
        for row in &mut rows {
            row.measures.set(Measure::RunA, row.score);
        }
        screened(rows, &options).charts.remove(0)
    };
    let single = chart(Rule::Individuals);
    assert_eq!((single.n, single.baseline), (30, 20));
    let near = |seen: f64, expected: f64| assert!((seen - expected).abs() < 1e-5, "{seen}");
    // 88, 90, 92, 89, 91 and again: their mean, and |ranges| 2, 2, 3, 2 between and 3 from each five to the next.
    let sigma = (4.0 * 9.0 + 3.0 * 3.0) / 19.0 / 1.128;
    near(single.centre, 90.0);
    near(single.lower.unwrap(), 90.0 - 3.0 * sigma);
    near(single.upper.unwrap(), 90.0 + 3.0 * sigma);
    let average = chart(Rule::Ewma);
    near(average.points[0].upper.unwrap(), 90.0 + 0.6 * sigma);
    near(average.points[29].upper.unwrap(), 90.0 + sigma);
    near(average.lower.unwrap(), 90.0 - sigma);
}

#[test]
fn a_limit_that_no_value_can_pass_is_none() {
    let options = |measure: &str| ScreenOptions {
        chart_rule: Rule::Individuals,
        charts: vec![measure.into()],
        ..ScreenOptions::default()
    };
    let wide = |score: f64| [score, score + 30.0].repeat(20);
    let score = screened(starts("A", &wide(55.0)), &options("score"));
    let chart = &score.charts[0];
    assert_eq!((chart.lower, chart.upper), (None, None), "70 ± 80");
    let mut rows = clean();
    for (k, row) in rows.iter_mut().enumerate() {
        row.measures
            .set(Measure::RunA, Some(10.0 + 30.0 * (k % 2) as f64));
        row.measures
            .set(Measure::StartMs, Some(10.0 + 30.0 * (k % 2) as f64));
    }
    let amps = screened(rows.clone(), &options("run_a"));
    assert!(amps.charts[0].lower.is_some_and(|lower| lower < 0.0));
    assert_eq!(screened(rows, &options("start_ms")).charts[0].lower, None);
}
