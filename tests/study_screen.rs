//! Screening, wear and plans on starts built by hand; exit codes of the program.

use std::process::Command;

use crate::study_support::{clean, no_light, normal, screened, start, starts};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use tipstrike::flag::Flag;
use tipstrike::measure::Measure;
use tipstrike::measuring::table;
use tipstrike::report::text::TermStyle;
use tipstrike::report::words::screen::{answer, verdict, why};
use tipstrike::score::StartRow;
use tipstrike::study::plan::{from_pilot, from_spread, run_order, run_sheet};
use tipstrike::study::{Rule, SamplingOptions, ScreenOptions, Wear, mark_tip_off, wear};

#[test]
fn a_clean_batch_passes_and_says_what_it_still_allows() {
    let found = screened(clean(), &ScreenOptions::default());
    assert!(found.pass && found.alarms.is_empty());
    // 1 − 0.05^(1/30) = 9.5 in 100, on paper.
    assert_eq!(
        answer(&found),
        "Clean: 30 starts, none rough, none past a limit. So many clean ones still allow up to 9.5 rough in 100 (one-sided 95 % bound)."
    );
}

#[test]
fn the_worst_starts_come_first_each_in_one_entry_with_all_its_reasons() {
    let mut rows = clean();
    rows.push(start("A", 31, 45.0));
    rows.push(no_light("A", 32));
    rows.push(start("A", 33, 20.0));
    rows.push(start("A", 34, 70.0));
    let found = screened(rows, &ScreenOptions::default());
    assert!(!found.pass && found.over_limits);
    let order: Vec<(Rule, u32)> = found.alarms.iter().map(|a| (a.rule, a.start)).collect();
    assert_eq!(
        order,
        [(Rule::NoLight, 32), (Rule::Rough, 33), (Rule::Rough, 31)]
    );
    let reasons = |k: usize| found.alarms[k].reasons.iter().map(|r| r.rule).collect::<Vec<_>>();
    // Four bad starts in a row: the chart goes out at the third, which has its own reason besides.
    assert_eq!(reasons(1), [Rule::Rough, Rule::RankCusum]);
    let since = found.alarms[1].reasons[1].since.as_ref().unwrap();
    assert_eq!(since.start, 31);
}

#[test]
fn a_rough_start_says_why_and_flags_reach_the_screening() {
    let mut rows = clean();
    let mut rough = start("A", 31, 45.0);
    rough.measures.dropouts = Some(2.0);
    rough.measures.attempts = Some(4.0);
    rows.push(rough);
    rows[3].flags.push(Flag::BalanceOff);
    let found = screened(rows, &ScreenOptions::default());
    assert_eq!(
        why(&found.alarms[0]),
        "rough: 2 dropouts, 4 attempts, score under 50"
    );
    assert_eq!(found.flags.len(), 1);
    let text = tipstrike::report::text::screening(&found, TermStyle::plain(80));
    assert!(text.contains("balance_off, 1 start: "), "{text}");
    assert!(text.contains("4 attempts"), "{text}");
}

#[test]
fn a_crisp_start_is_no_alarm_however_steady_the_others_were() {
    let mut rows = starts("A", &[95.0, 95.2].repeat(15));
    rows.push(start("A", 31, 85.0));
    assert!(screened(rows, &ScreenOptions::default()).pass);
}

#[test]
fn a_slow_slide_takes_the_chart_out_once_before_any_start_is_rough() {
    let mut rng = ChaCha8Rng::seed_from_u64(20);
    let mut rows: Vec<StartRow> = (1..=80)
        .map(|n| {
            let slide = 0.6 * f64::from(n).max(40.0) - 24.0;
            start("A", n, 76.0 + 3.0 * normal(&mut rng) - slide)
        })
        .collect();
    for rule in [Rule::RankCusum, Rule::Ewma] {
        let options = ScreenOptions {
            chart_rule: rule,
            ..ScreenOptions::default()
        };
        let found = screened(rows.clone(), &options);
        let out: Vec<u32> = found.alarms.iter().map(|a| a.start).collect();
        assert_eq!(out.len(), 1, "{rule:?} {out:?}");
        assert!((44..60).contains(&out[0]), "{rule:?} {out:?}");
    }
    let found = screened(rows.clone(), &ScreenOptions::default());
    mark_tip_off(&mut rows, &found);
    let marked = rows.iter().filter(|r| r.flags.contains(&Flag::TipOff));
    let marked: Vec<u32> = marked.map(|r| r.start).collect();
    // From where the sum left zero to the end, the starts before the alarm included.
    assert!(marked[0] < found.alarms[0].start && marked[0] > 38, "{marked:?}");
    assert_eq!(marked, (marked[0]..=80).collect::<Vec<_>>());
}

#[test]
fn charts_go_on_from_earlier_starts() {
    let drifted = || starts("A", &[70.0, 71.0, 69.0, 70.5].repeat(5));
    let alone = screened(drifted(), &ScreenOptions::default());
    // Twenty starts are too few for a chart of their own.
    assert_eq!((alone.charts.len(), alone.short_charts[0].needed), (0, 21));
    let mut earlier = clean();
    let options = |earlier: &[StartRow]| ScreenOptions {
        earlier: earlier.to_vec(),
        ..ScreenOptions::default()
    };
    let found = screened(drifted(), &options(&earlier));
    let chart = &found.charts[0];
    assert_eq!((chart.baseline, chart.own_baseline), (40, 10));
    earlier.extend(clean());
    let found = screened(drifted(), &options(&earlier));
    let chart = &found.charts[0];
    assert_eq!((chart.baseline, chart.own_baseline), (60, 0));
    assert!(!found.pass);
    // Starts during which a chart was out are no baseline.
    earlier.iter_mut().skip(30).for_each(|row| row.flags.push(Flag::TipOff));
    assert_eq!(screened(drifted(), &options(&earlier)).charts[0].baseline, 40);
}

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
    rows.iter_mut().step_by(17).for_each(|row| *row = no_light("A", row.start));
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

/// Starts of tips whose score falls by `slope` a start from `from`; tips differ by `apart`.
fn worn(seed: u64, tips: u32, length: u32, from: f64, slope: f64, apart: f64) -> Vec<StartRow> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut rows = Vec::new();
    for tip in 0..tips {
        for n in 1..=length {
            let score =
                from + slope * f64::from(n) + apart * f64::from(tip) + 3.0 * normal(&mut rng);
            let mut row = start("A", n, score.clamp(0.0, 100.0));
            row.run = tip + 1;
            row.measures.since_regrind = Some(f64::from(n));
            rows.push(row);
        }
    }
    rows
}

fn score_wear(rows: &[StartRow]) -> Wear {
    let found = wear(rows, 0.95, |_, measure| {
        (measure == "score").then_some(65.0)
    });
    found.into_iter().find(|w| w.measure == "score").unwrap()
}

#[test]
fn a_wearing_tip_gets_a_regrind_number_with_its_interval() {
    // 90 − 0.625 n meets 65 at 40.
    let found = score_wear(&worn(21, 3, 40, 90.0, -0.625, 0.0));
    assert_eq!((found.starts, found.tips, found.up_to), (120, 3, 40.0));
    let (at, lo, hi) = (found.at.unwrap(), found.lo.unwrap(), found.hi.unwrap());
    assert!(
        (37.0..=43.0).contains(&at) && lo <= 40.0 && 40.0 <= hi,
        "{lo} {at} {hi}"
    );
    assert!(
        found.says.starts_with("Regrind A after about"),
        "{}",
        found.says
    );
}

#[test]
fn a_steady_tip_shows_no_sign_of_wear() {
    let found = score_wear(&worn(22, 2, 40, 85.0, 0.0, 0.0));
    assert!(!found.wears && found.at.is_none());
    assert_eq!(found.says, "No sign of wear of A in score up to 40 starts.");
}

/// A trend between the level and its third part is neither called wear nor called no sign of it.
#[test]
fn a_trend_that_is_not_sure_enough_is_called_open() {
    let between = |w: &&Wear| w.p < 0.05 && !w.wears && w.slope < 0.0;
    let found: Vec<Wear> = (0..200)
        .map(|seed| score_wear(&worn(seed, 1, 20, 90.0, -0.25, 0.0)))
        .collect();
    let open = found.iter().find(between).expect("some lie between");
    assert!(open.p >= 0.05 / 3.0, "{}", open.p);
    assert!(open.says.contains("is not clear yet"), "{}", open.says);
    assert!(open.says.contains("under 0.017"), "{}", open.says);
    let none = found.iter().filter(|w| w.says.starts_with("No sign"));
    assert!(none.clone().count() > 0);
    assert!(none.into_iter().all(|w| w.p >= 0.05 || w.slope >= 0.0));
}

#[test]
fn tips_that_differ_from_each_other_are_no_wear() {
    // Each tip is steady; the later and longer one is worse throughout.
    let mut rows = worn(23, 1, 10, 90.0, 0.0, 0.0);
    let second = worn(24, 1, 40, 75.0, 0.0, 0.0);
    rows.extend(second);
    assert!(!score_wear(&rows).wears);
}

#[test]
fn a_tip_that_goes_off_at_once_is_told_from_one_that_wears_bit_by_bit() {
    let mut rows = worn(25, 2, 40, 90.0, 0.0, 0.0);
    for row in rows
        .iter_mut()
        .filter(|r| r.measures.since_regrind > Some(28.0))
    {
        row.score = row.score.map(|s| s - 30.0);
    }
    let found = score_wear(&rows);
    let at = found.change_at.expect("the jump shows");
    assert!((26.0..=30.0).contains(&at), "{at}");
    assert_eq!(
        score_wear(&worn(26, 2, 40, 90.0, -0.6, 0.0)).change_at,
        None
    );
}

#[test]
fn regrind_intervals_hold_the_true_number_nine_times_in_ten() {
    // The interval carries the slope's doubt and not that of the level: a little short of 95.
    let runs = 200;
    let held = (0..runs).filter(|seed| {
        let found = score_wear(&worn(100 + seed, 3, 40, 90.0, -0.5, 0.0));
        // 90 − 0.5 n meets 65 at 50; the number is rounded down.
        found.lo.is_some_and(|lo| lo <= 50.0) && found.hi.is_none_or(|hi| hi >= 49.0)
    });
    let held = held.count();
    assert!(held >= 180, "{held} of {runs}");
}

#[test]
fn a_pilot_and_a_stated_spread_agree_on_normal_starts() {
    let mut rng = ChaCha8Rng::seed_from_u64(27);
    let scores: Vec<f64> = (0..400).map(|_| 60.0 + 8.0 * normal(&mut rng)).collect();
    let pilot = from_pilot(&starts("A", &scores), "score", 5.0, 0.95)
        .unwrap()
        .each as f64;
    let stated = from_spread(8.0, "score", 5.0, 0.95).unwrap().each as f64;
    // The t test would take 2 · (1.96 + 0.84)² · (8/5)² = 40.2; the rank test 5 in 100 more.
    assert!((40.0..=45.0).contains(&stated), "{stated}");
    assert!((pilot / stated - 1.0).abs() < 0.15, "{pilot} {stated}");
}

fn names(list: &[&str]) -> Vec<String> {
    list.iter().map(ToString::to_string).collect()
}

#[test]
fn the_planned_order_is_balanced_mixed_and_the_same_for_the_same_seed() {
    let (preps, coupons) = (names(&["A", "B", "C"]), names(&["L1", "L2"]));
    let plan = |seed| run_order(&preps, &coupons, 30, 5, seed).unwrap();
    let runs = plan(7);
    assert_eq!(runs.len(), 18);
    for block in runs.chunks(3) {
        let mut seen: Vec<&str> = block.iter().map(|r| r.prep.as_str()).collect();
        seen.sort_unstable();
        assert_eq!(seen, ["A", "B", "C"], "every prep once in a block");
        assert!(block.iter().all(|r| r.coupon == block[0].coupon));
    }
    assert_eq!(runs, plan(7));
    assert_ne!(runs, plan(8));
    assert!(run_order(&names(&["A"]), &coupons, 30, 5, 1).is_err());
    assert!(run_order(&names(&["A", "A"]), &coupons, 30, 5, 1).is_err());
}

#[test]
fn the_planned_sheet_is_a_run_sheet_that_a_job_reads() {
    let folder = tempfile::tempdir().unwrap();
    let runs = run_order(&names(&["A", "B"]), &names(&["L1"]), 10, 5, 1).unwrap();
    std::fs::write(folder.path().join("runs.csv"), run_sheet(&runs)).unwrap();
    let prep = |name: &str| format!("[prep.{name}]\nclass = \"WLa20\"\ndiameter = \"2.4 mm\"\n");
    let job = format!(
        "[job]\ntitle = \"Kettle lids\"\n[logger]\ncurrent = {{ channel = 1, amps_at_full_scale = 300.0 }}\n{}{}",
        prep("A"),
        prep("B")
    );
    let path = folder.path().join("job.toml");
    std::fs::write(&path, job).unwrap();
    let job = tipstrike::job::Job::read(&path).unwrap();
    assert_eq!(job.runs.len(), runs.len());
    assert_eq!(job.runs[0].file, "run01.wav");
}

#[test]
fn exit_codes_tell_clean_from_not_clean_and_from_not_read() {
    let folder = tempfile::tempdir().unwrap();
    let save = |name: &str, rows: &[StartRow]| {
        let path = folder.path().join(name);
        let mut bytes = Vec::new();
        table::write_csv(rows, &mut bytes).unwrap();
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let good = save("good.csv", &clean());
    let mut rows = clean();
    rows.push(no_light("A", 31));
    let bad = save("bad.csv", &rows);
    let broken = folder.path().join("broken.wav");
    std::fs::write(&broken, "RIFF").unwrap();
    let code = |paths: &[&std::path::Path]| {
        let done = Command::new(env!("CARGO_BIN_EXE_tipstrike"))
            .arg("screen")
            .args(paths)
            .output()
            .unwrap();
        (done.status.code(), String::from_utf8(done.stderr).unwrap())
    };
    assert_eq!(code(&[&good]).0, Some(0));
    assert_eq!(code(&[&bad]).0, Some(1));
    let (part, told) = code(&[&good, &broken]);
    assert_eq!(part, Some(3), "{told}");
    assert!(told.contains("broken.wav was left out"), "{told}");
    assert_eq!(code(&[&bad, &broken]).0, Some(1));
    assert_eq!(code(&[&folder.path().join("none.csv")]).0, Some(2));
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
            row.measures.run_a = row.score;
        }
        screened(rows, &options).charts.remove(0)
    };
    let single = chart(Rule::Individuals);
    assert_eq!((single.n, single.baseline), (30, 20));
    let near = |seen: f64, expected: f64| assert!((seen - expected).abs() < 1e-6, "{seen}");
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
        row.measures.set(Measure::RunA, Some(10.0 + 30.0 * (k % 2) as f64));
        row.measures.set(Measure::StartMs, Some(10.0 + 30.0 * (k % 2) as f64));
    }
    let amps = screened(rows.clone(), &options("run_a"));
    assert!(amps.charts[0].lower.is_some_and(|lower| lower < 0.0));
    assert_eq!(screened(rows, &options("start_ms")).charts[0].lower, None);
}

#[test]
fn a_rough_start_says_by_which_rules_it_is_rough() {
    let rough = |dropouts: f64, attempts: f64, score: f64| {
        let mut row = start("A", 31, score);
        row.verdict = Some(tipstrike::score::Verdict::Rough);
        row.measures.dropouts = Some(dropouts);
        row.measures.attempts = Some(attempts);
        let mut rows = clean();
        rows.push(row);
        let found = screened(rows, &ScreenOptions::default());
        let alarm = found.alarms.into_iter().find(|a| a.rule == Rule::Rough);
        why(&alarm.unwrap())
    };
    assert_eq!(rough(1.0, 1.0, 70.0), "rough: 1 dropout");
    assert_eq!(
        rough(2.0, 9.0, 40.0),
        "rough: 2 dropouts, 9 attempts, score under 50"
    );
    assert_eq!(rough(0.0, 1.0, 49.9), "rough: score under 50");
    assert_eq!(rough(0.0, 1.0, 50.0), "rough");
}

/// A table has no targets: the flags of its measuring stand for them.
#[test]
fn flags_of_a_table_are_alarms_of_their_measures() {
    for (flag, measure) in [
        (Flag::Slow, "start_ms"),
        (Flag::NotSettled, "start_ms"),
        (Flag::Wander, "wander_v"),
        (Flag::Overshoot, "overshoot_pct"),
    ] {
        let mut rows = clean();
        rows[7].flags.push(flag);
        let found = screened(rows, &ScreenOptions::default());
        assert_eq!(found.alarms.len(), 1, "{flag:?}");
        let alarm = &found.alarms[0];
        assert_eq!(
            (alarm.rule, alarm.start, alarm.measure.as_str()),
            (Rule::Target, 8, measure)
        );
    }
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
    let plan = "0 rough of 30 judged in a lot of 30, up to 0 allowed (ISO 2859-1, letter D, AQL 2.5)";
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
    assert!(rough.contains("The sample fails: 30 rough of 30"), "{rough}");
}

#[test]
fn starts_that_cannot_be_judged_are_counted_apart_and_keep_a_batch_from_passing() {
    let mut rows = clean();
    rows[4].doubt = Some("the current falls without a reason".into());
    rows[4].score = Some(0.0);
    rows[9].sheet.insert("exclude".into(), "fumbled".into());
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
    for (cell, shift, bad) in [("3", "day", 0), ("3", "night", 3), ("7", "day", 0), ("7", "night", 1)] {
        for n in 1..=30 {
            let mut row = start("A", n, if n > 5 && n <= 5 + bad { 30.0 } else { 90.0 });
            row.recording = format!("{cell}/{shift}.wav");
            row.sheet.insert("cell".into(), cell.into());
            row.sheet.insert("shift".into(), shift.into());
            row.sheet.insert("date".into(), "2026-03-02".into());
            row.sheet.insert("tip_id".into(), format!("A{}", n / 16));
            rows.push(row);
        }
    }
    let options = ScreenOptions {
        by: vec!["cell".into(), "shift".into()],
        ..ScreenOptions::default()
    };
    let found = screened(rows, &options);
    let lines: Vec<_> = found.groups.iter().map(|g| (g.id.as_str(), g.pass, g.rough, g.tips)).collect();
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
        (alarm.group.as_str(), alarm.recording.as_str(), alarm.tip_id.as_deref(), alarm.date.as_deref()),
        ("3, night", "3/night.wav", Some("A0"), Some("2026-03-02"))
    );
    assert!(answer(&found).contains("Not clean by cell and shift, worst first: 3, night (3 of 30 rough); 7, night (1 of 30 rough); 2 of 4."));
}

#[test]
fn a_table_with_a_column_twice_or_strange_letters_is_refused_with_its_line() {
    let file = tempfile::NamedTempFile::new().unwrap();
    let mut text = Vec::new();
    table::write_csv(&clean(), &mut text).unwrap();
    let text = String::from_utf8(text).unwrap();
    let refused = |content: &[u8]| {
        std::fs::write(file.path(), content).unwrap();
        table::read(file.path()).unwrap_err().to_string()
    };
    let twice = text.replacen("prep", "prep,prep", 1);
    assert!(refused(twice.as_bytes()).contains("column \"prep\" stands there twice"));
    let mut latin = text.into_bytes();
    let second_line = latin.iter().position(|b| *b == b'\n').unwrap() + 1;
    latin[second_line] = 0xe9;
    let seen = refused(&latin);
    assert!(seen.contains("line 2") && seen.contains("UTF-8"), "{seen}");
}
