//! What lies at a limit of a start, a target or a job, and next to it: where a turned comparison would say something else.

use tipstrike::job::{Job, Length, Run, StartMethod};
use tipstrike::measure::Measure;
use tipstrike::score::{StartRow, explain, targets_for};

use super::after::rows;
use super::fit::{ac, dc, job};
use super::score::{self, good_start};

/// Every column of a prep and a run that is written down whole.
#[test]
fn what_is_written_down_stands_in_the_starts_table() {
    let prep = [
        ("tip", "\"flat\""),
        ("tip_flat", "\"0.5 mm\""),
        ("wheel", "\"diamond, 400 grit\""),
    ];
    let run = Run {
        set_a: Some(120.0),
        start_method: Some(StartMethod::Scratch),
        set_en_pct: Some(68.0),
        ac_hz: Some(90.0),
        thickness: Length::from_mm(3.0),
        stickout: Length::from_mm(6.0),
        arc_gap: Length::from_mm(1.5),
        upslope_s: Some(0.2),
        tip_after: Some("sound".to_owned()),
        other: [("gas".to_owned(), "argon".to_owned())].into(),
        ..ac(120.0, None)
    };
    let (row, _) = score::row(&job(&prep, run.clone()), &run, &good_start());
    let expected = [
        ("arc_gap", "1.5 mm"),
        ("class", "WLa20"),
        ("diameter", "2.4 mm"),
        ("gas", "argon"),
        ("marks", "lengthwise"),
        ("process", "ac"),
        ("set_a", "120"),
        ("set_ac_hz", "90"),
        ("set_en_pct", "68"),
        ("start_method", "scratch"),
        ("stickout", "6 mm"),
        ("taper_deg", "32"),
        ("thickness", "3 mm"),
        ("tip", "flat"),
        ("tip_after", "sound"),
        ("tip_flat", "0.5 mm"),
        ("upslope_s", "0.2"),
        ("wheel", "diamond, 400 grit"),
    ];
    let found: Vec<(&str, &str)> = row
        .sheet
        .iter()
        .map(|(name, value)| (name.as_str(), value.as_str()))
        .collect();
    assert_eq!(found, expected);
}

/// The part of the recording, the up-slope and the mains of a run go to the finder.
#[test]
fn the_finder_gets_what_the_sheet_and_the_logger_say() {
    let job = Job::parse(
        "[logger]\nmains_hz = 60\n[prep.A]\n",
        "job.toml",
        Default::default(),
    )
    .unwrap();
    let run = Run {
        from_s: Some(2.0),
        upslope_s: Some(0.5),
        ..dc(80.0)
    };
    let context = job.context_of(&run);
    assert_eq!(context.span_s, (2.0, f64::INFINITY));
    assert_eq!(
        (context.mains_hz, context.upslope_s),
        (Some(60.0), Some(0.5))
    );
}

/// Half of (2.4 − 0.4) mm over tan 30°: 1.732 mm.
#[test]
fn a_flat_shortens_the_taper() {
    let flat = [
        ("taper_deg", "60"),
        ("tip", "\"flat\""),
        ("tip_flat", "\"0.4 mm\""),
    ];
    let prep = &job(&flat, dc(80.0)).preps["A"];
    let length = prep.taper_length().unwrap().mm();
    assert!((length - 3.0_f64.sqrt()).abs() < 1e-9, "{length}");
}

#[test]
fn the_grit_stands_before_or_behind_its_word() {
    let grit = |wheel: &str| job(&[("wheel", wheel)], dc(80.0)).preps["A"].grit();
    assert_eq!(grit("\"diamond, 180 grit\""), Some(180.0));
    assert_eq!(grit("\"grit 180, diamond\""), Some(180.0));
    assert_eq!(grit("\"diamond, fine\""), None);
}

/// docs/measures.md: `balance_off` from more than 5 % of the time.
#[test]
fn a_share_just_5_percent_off_is_no_flag() {
    let flags = |measured| {
        let mut start = good_start();
        start.measures.en_share_pct = Some(measured);
        let run = Run {
            set_en_pct: Some(70.0),
            ..score::run("A")
        };
        score::row(&score::job(score::PREPS), &run, &start).0.flags
    };
    assert_eq!(flags(65.0), []);
    assert_eq!(flags(64.5), [tipstrike::flag::Flag::BalanceOff]);
}

/// Two attempts are allowed: they are no reason for the word.
#[test]
fn attempts_that_are_allowed_are_not_what_made_a_start_rough() {
    let mut start = good_start();
    (start.measures.attempts, start.measures.dropouts) = (Some(2.0), Some(1.0));
    let (row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
    assert_eq!(
        explain(&row, &score)[1],
        "Rough: it dropped out (1×) after it was lit."
    );
}

#[test]
fn values_are_told_to_three_figures() {
    let mut start = good_start();
    (start.measures.wander_v, start.measures.overshoot_pct) = (Some(0.3), Some(100.0));
    let (row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
    let said = explain(&row, &score).join("\n");
    assert!(
        said.contains("wander: 0.30 V; good to 0.20 V, poor from 1.00 V"),
        "{said}"
    );
    assert!(
        said.contains("overshoot: 100 %; good to 15.0 %, poor from 80.0 %"),
        "{said}"
    );
}

#[test]
fn a_target_that_is_given_in_part_names_both_its_origins() {
    let origin = |target: &str| {
        let job = score::job(&format!(
            "{}[targets]\nstart_ms = {{ {target} }}\n",
            score::PREPS
        ));
        targets_for(&job, &score::run("A"), &good_start())
            .get(Measure::StartMs)
            .unwrap()
            .origin
            .to_string()
    };
    let rest = "[targets], the rest built in (DC, 30 to 150 A)";
    assert_eq!(origin("good = 20, poor = 90"), "[targets]");
    assert_eq!(
        [
            origin("good = 20"),
            origin("poor = 900"),
            origin("weight = 1")
        ],
        [rest; 3]
    );
}

/// `missed_halfcycles` is built in for AC alone; `rise_ms` for no process.
#[test]
fn a_weight_alone_will_do_where_any_process_has_the_target_built_in() {
    let read = |measure: &str| {
        let text = format!("[targets]\n{measure} = {{ weight = 2 }}\n[prep.A]\n");
        Job::parse(&text, "job.toml", Default::default()).map_err(|e| e.to_string())
    };
    assert!(read("missed_halfcycles").is_ok());
    let said = read("rise_ms").unwrap_err();
    assert!(
        said.contains("rise_ms has no built-in target to complete this one"),
        "{said}"
    );
}

/// docs/scoring.md: the bands of the built-in targets, and half as much again for a blunt tip.
#[test]
fn a_band_of_amps_begins_with_its_lower_end() {
    let origin = |amps: f64, start: &tipstrike::start::Start, prep: &str| {
        let run = Run {
            set_a: Some(amps),
            ..score::run(prep)
        };
        let run = match start.measures.ac_hz {
            Some(_) => Run {
                process: Some(tipstrike::job::Process::Ac),
                ..run
            },
            None => run,
        };
        let target = targets_for(&score::job(score::PREPS), &run, start).list[0].clone();
        (target.origin.to_string(), target.good, target.poor)
    };
    let dc = good_start();
    assert_eq!(
        origin(29.9, &dc, "A"),
        ("built in (DC, under 30 A)".to_owned(), 100.0, 600.0)
    );
    assert_eq!(
        origin(30.0, &dc, "A"),
        ("built in (DC, 30 to 150 A)".to_owned(), 60.0, 400.0)
    );
    assert_eq!(
        origin(150.0, &dc, "A"),
        ("built in (DC, 150 A and over)".to_owned(), 80.0, 500.0)
    );
    assert_eq!(
        origin(80.0, &dc, "B"),
        (
            "built in (DC, 30 to 150 A, blunt tip)".to_owned(),
            90.0,
            600.0
        )
    );
    let mut ac = good_start();
    ac.measures.ac_hz = Some(90.0);
    assert_eq!(origin(50.0, &ac, "A").0, "built in (AC, 50 to 150 A)");
}

#[test]
fn a_start_that_is_rough_by_its_score_alone_says_so() {
    let mut start = good_start();
    start.measures.start_ms = Some(395.0);
    let (row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
    assert_eq!(explain(&row, &score)[1], "Rough: the score is under 50.");
    start.measures.start_ms = Some(50.0);
    start.measures.attempts = Some(3.0);
    let (row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
    assert_eq!(
        explain(&row, &score)[1],
        "Rough: 3 attempts are more than 2."
    );
}

#[test]
fn a_row_is_grouped_by_its_own_names() {
    let row = StartRow {
        coupon: Some("L1".into()),
        ..rows(1, |_, _| ()).remove(0)
    };
    let groups = ["prep", "coupon", "recording", "gas"].map(|by| row.group(by));
    assert_eq!(groups, [Some("A"), Some("L1"), Some("a.wav"), None]);
}
