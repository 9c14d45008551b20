//! Screening, wear and plans on starts built by hand; exit codes of the program.

use std::process::Command;

use crate::study_support::{clean, no_light, normal, screened, start, starts};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use tipstrike::flag::Flag;
use tipstrike::measure::Measure;
use tipstrike::measuring::table;
use tipstrike::report::text::TermStyle;
use tipstrike::report::words::screen::{answer, why};
use tipstrike::report::words::wear::says;
use tipstrike::score::StartRow;
use tipstrike::study::plan::{run_order, run_sheet};
use tipstrike::study::{Rule, ScreenOptions, Wear, WearOf, WearVerdict, mark_tip_off, wear};

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
    let reasons = |k: usize| {
        found.alarms[k]
            .reasons
            .iter()
            .map(|r| r.rule)
            .collect::<Vec<_>>()
    };
    // Four bad starts in a row: the chart goes out at the third, which has its own reason besides.
    assert_eq!(reasons(1), [Rule::Rough, Rule::RankCusum]);
    let since = found.alarms[1].reasons[1].since.as_ref().unwrap();
    assert_eq!(since.start, 31);
}

#[test]
fn a_rough_start_says_why_and_flags_reach_the_screening() {
    let mut rows = clean();
    let mut rough = start("A", 31, 45.0);
    rough.measures.set(Measure::Dropouts, Some(2.0));
    rough.measures.set(Measure::Attempts, Some(4.0));
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
            let slide = 0.5 * f64::from(n).max(40.0) - 20.0;
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
    mark_tip_off(&mut rows, &found.charts);
    let marked = rows.iter().filter(|r| r.flags.contains(&Flag::TipOff));
    let marked: Vec<u32> = marked.map(|r| r.start).collect();
    // From where the sum left zero to the end, the starts before the alarm included.
    assert!(
        marked[0] < found.alarms[0].start && marked[0] > 38,
        "{marked:?}"
    );
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
    earlier
        .iter_mut()
        .skip(30)
        .for_each(|row| row.flags.push(Flag::TipOff));
    assert_eq!(
        screened(drifted(), &options(&earlier)).charts[0].baseline,
        40
    );
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
            row.measures.set(Measure::SinceRegrind, Some(f64::from(n)));
            rows.push(row);
        }
    }
    rows
}

fn score_wear(rows: &[StartRow]) -> Wear {
    let found = wear(rows, "prep", 0.95, |_, measure| {
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
        says(&found).starts_with("Regrind A after about"),
        "{}",
        says(&found)
    );
}

#[test]
fn a_steady_tip_shows_no_sign_of_wear() {
    let found = score_wear(&worn(22, 2, 40, 85.0, 0.0, 0.0));
    assert!(!found.wears() && found.at.is_none());
    assert_eq!(
        says(&found),
        "No sign of wear of A in score up to 40 starts (about these 2 tips, not the grind)."
    );
}

/// A trend between the level and its third part is neither called wear nor called no sign of it.
#[test]
fn a_trend_that_is_not_sure_enough_is_called_open() {
    let between = |w: &&Wear| w.p < 0.05 && !w.wears() && w.slope < 0.0;
    let found: Vec<Wear> = (0..200)
        .map(|seed| score_wear(&worn(seed, 1, 20, 90.0, -0.25, 0.0)))
        .collect();
    let open = found.iter().find(between).expect("some lie between");
    assert!(open.p >= 0.05 / 3.0, "{}", open.p);
    let told = says(open);
    assert!(told.contains("is not clear yet"), "{told}");
    // 0.05 / 3 = 0.0167, on paper.
    assert!(told.contains("under 0.0167"), "{told}");
    let none = found.iter().filter(|w| w.verdict == WearVerdict::NoSign);
    assert!(none.clone().count() > 0);
    assert!(none.into_iter().all(|w| w.p >= 0.05 || w.slope >= 0.0));
}

#[test]
fn tips_that_differ_from_each_other_are_no_wear() {
    // Each tip is steady; the later and longer one is worse throughout.
    let mut rows = worn(23, 1, 10, 90.0, 0.0, 0.0);
    let second = worn(24, 1, 40, 75.0, 0.0, 0.0);
    rows.extend(second);
    assert!(!score_wear(&rows).wears());
}

/// One or two tips that jump are worn as well: about the two levels neighbours do not resemble each other, as they would
/// where a tip only drifts.
#[test]
fn a_tip_that_goes_off_at_once_is_told_from_one_that_wears_bit_by_bit() {
    let mut rows = worn(25, 3, 40, 90.0, 0.0, 0.0);
    for row in rows
        .iter_mut()
        .filter(|r| r.measures.since_regrind() > Some(28.0))
    {
        row.score = row.score.map(|s| s - 30.0);
    }
    let found = score_wear(&rows);
    let at = found.change_at.expect("the jump shows");
    assert!((26.0..=30.0).contains(&at), "{at}");
    rows.retain(|row| row.run < 3);
    for tips in [2, 1] {
        rows.retain(|row| row.run <= tips);
        let few = score_wear(&rows);
        assert_eq!((few.verdict, few.about), (WearVerdict::Wears, WearOf::Tips));
        let at = few.change_at.expect("the jump shows");
        assert!((26.0..=30.0).contains(&at), "{tips}: {at}");
    }
    assert_eq!(
        score_wear(&worn(26, 3, 40, 90.0, -0.6, 0.0)).change_at,
        None
    );
}

fn names(list: &[&str]) -> Vec<String> {
    list.iter().map(ToString::to_string).collect()
}

#[test]
fn the_planned_order_is_balanced_mixed_and_the_same_for_the_same_seed() {
    let (preps, coupons) = (names(&["A", "B", "C"]), names(&["L1", "L2"]));
    let plan = |seed| run_order(&preps, &coupons, 30, 5, 1, seed).unwrap();
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
    assert!(run_order(&names(&["A"]), &coupons, 30, 5, 1, 1).is_err());
    assert!(run_order(&names(&["A", "A"]), &coupons, 30, 5, 1, 1).is_err());
}

#[test]
fn the_planned_sheet_is_a_run_sheet_that_a_job_reads() {
    let folder = tempfile::tempdir().unwrap();
    let runs = run_order(&names(&["A", "B"]), &names(&["L1"]), 10, 5, 1, 1).unwrap();
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
    assert_eq!(
        (job.runs[0].starts, job.runs[0].since_regrind),
        (Some(5), Some(1))
    );
    assert!(job.runs.iter().all(|run| run.tip_id.is_some()));
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

#[test]
fn a_rough_start_says_by_which_rules_it_is_rough() {
    let rough = |dropouts: f64, attempts: f64, score: f64| {
        let mut row = start("A", 31, score);
        row.verdict = Some(tipstrike::score::Verdict::Rough);
        row.measures.set(Measure::Dropouts, Some(dropouts));
        row.measures.set(Measure::Attempts, Some(attempts));
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
