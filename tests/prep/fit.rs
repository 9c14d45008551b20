//! What `prep` says of a prep and its job, and what the measured starts say of the sheet.

use std::path::PathBuf;

use tipstrike::fit::{FitFinding, Level, fit};
use tipstrike::job::{Job, Length, Process, Run, StartMethod};
use tipstrike::measure::Measures;
use tipstrike::score::{StartRow, after};
use tipstrike::start::Instants;

/// A sound prep on 2.4 mm; `change` replaces or adds keys.
pub(super) fn job(change: &[(&str, &str)], run: Run) -> Job {
    let mut keys = vec![
        ("class", "\"WLa20\""),
        ("diameter", "\"2.4 mm\""),
        ("taper_deg", "32"),
        ("tip", "\"point\""),
        ("marks", "\"lengthwise\""),
    ];
    for (key, value) in change {
        keys.retain(|(known, _)| known != key);
        keys.push((key, value));
    }
    let body: String = keys
        .iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(key, value)| format!("{key} = {value}\n"))
        .collect();
    let mut job = Job::parse(&format!("[prep.A]\n{body}"), "job.toml", PathBuf::new())
        .unwrap_or_else(|e| panic!("{e}"));
    job.runs = vec![run];
    job
}

pub(super) fn dc(amps: f64) -> Run {
    Run {
        number: 1,
        line: 2,
        file: "a.wav".to_owned(),
        prep: "A".to_owned(),
        set_a: Some(amps),
        process: Some(Process::Dc),
        ..Run::default()
    }
}

pub(super) fn ac(amps: f64, en_pct: Option<f64>) -> Run {
    Run {
        process: Some(Process::Ac),
        set_en_pct: en_pct,
        ..dc(amps)
    }
}

pub(super) fn about<'a>(findings: &'a [FitFinding], about: &str) -> Option<&'a FitFinding> {
    findings.iter().find(|f| f.remark.about == about)
}

fn level(findings: &[FitFinding], what: &str) -> Option<Level> {
    about(findings, what).map(|f| f.remark.level)
}

/// Everything but good-to-know.
fn objections(findings: &[FitFinding]) -> Vec<String> {
    findings
        .iter()
        .filter(|f| f.remark.level != Level::Note)
        .map(|f| format!("{}: {}", f.remark.about, f.remark.what))
        .collect()
}

/// Common practice, no source: 30–35° included all round on 2.4 mm for steel.
#[test]
fn thirty_to_thirty_five_degrees_pass_all_round_on_2_4_mm() {
    for angle in ["30", "32", "35"] {
        for amps in [40.0, 80.0, 120.0, 145.0] {
            let findings = fit(&job(&[("taper_deg", angle)], dc(amps)));
            assert_eq!(objections(&findings), [""; 0], "{angle}° at {amps} A");
        }
    }
    let over_the_table = fit(&job(&[], dc(120.0)));
    let taper = &about(&over_the_table, "taper").unwrap().remark;
    assert!(
        taper.what.contains("up to 90 A in the tip table"),
        "{}",
        taper.what
    );
    assert!(
        taper
            .what
            .contains("common practice takes 30–35° all round"),
        "{}",
        taper.what
    );
    assert!(
        taper
            .source
            .contains("p. 24; common practice, which differs"),
        "{}",
        taper.source
    );
}

/// Common practice, no source: a needle of 20° for about 20 A on 2.4 mm.
#[test]
fn a_needle_of_twenty_degrees_passes_at_twenty_amps_on_2_4_mm() {
    let findings = fit(&job(&[("taper_deg", "20")], dc(20.0)));
    assert_eq!(objections(&findings), [""; 0]);
}

/// Common practice, no source: 45–50° for 170–185 A on 2.4 mm in place of the next diameter.
#[test]
fn forty_five_to_fifty_degrees_pass_at_170_to_185_amps_on_2_4_mm() {
    for angle in ["45", "47.5", "50"] {
        for amps in [170.0, 185.0] {
            let findings = fit(&job(&[("taper_deg", angle)], dc(amps)));
            assert_eq!(objections(&findings), [""; 0], "{angle}° at {amps} A");
            let taper = &about(&findings, "taper").unwrap().remark;
            assert!(
                taper.what.contains("in place of the next diameter"),
                "{}",
                taper.what
            );
        }
    }
}

/// Common practice, no source: adjustable grinders reach 20–60°.
#[test]
fn a_taper_outside_what_grinders_reach_is_told_so() {
    let says = |angle| {
        let findings = fit(&job(&[("taper_deg", angle)], dc(80.0)));
        about(&findings, "grind")
            .unwrap()
            .remark
            .what
            .contains("that adjustable grinders reach")
    };
    assert!(says("15") && says("75"));
    assert!(!says("20") && !says("60"));
}

/// Common practice, no source: 68–70 % electrode negative; under it, the cleaning end.
#[test]
fn a_balance_left_at_the_cleaning_end_is_told_before_and_after() {
    let flat = [("tip", "\"flat\""), ("tip_flat", "\"0.8 mm\"")];
    for share in [68.0, 70.0] {
        let findings = fit(&job(&flat, ac(150.0, Some(share))));
        assert_eq!(about(&findings, "balance"), None, "{share} %");
    }
    let left = fit(&job(&flat, ac(150.0, Some(45.0))));
    assert_eq!(level(&left, "balance"), Some(Level::Look));
    assert!(
        about(&left, "balance")
            .unwrap()
            .remark
            .to_try
            .contains("68–70 %")
    );
    assert_eq!(
        level(&fit(&job(&flat, ac(150.0, None))), "balance"),
        Some(Level::Note)
    );

    let job = job(&flat, ac(150.0, Some(68.0)));
    let told = after(&job, &rows(12, |m, _| m.en_share_pct = Some(45.0)));
    let balance = &about(&told, "balance").unwrap().remark;
    assert_eq!(
        balance.what,
        "45 % electrode negative was measured, 68 % written down"
    );
    assert!(balance.why.contains("cleaning end"), "{}", balance.why);
    let told = after(&job, &rows(12, |m, _| m.en_share_pct = Some(66.0)));
    assert_eq!(about(&told, "balance"), None);
}

/// Common practice, no source: lengthwise marks, even rough ones, start better than crosswise.
#[test]
fn rough_lengthwise_marks_are_a_note_and_crosswise_ones_are_to_be_changed() {
    let of = |marks, wheel| {
        let findings = fit(&job(&[("marks", marks), ("wheel", wheel)], dc(80.0)));
        level(&findings, "marks")
    };
    assert_eq!(of("\"lengthwise\"", "\"diamond, fine\""), None);
    assert_eq!(
        of("\"lengthwise\"", "\"bench wheel, coarse\""),
        Some(Level::Note)
    );
    assert_eq!(of("\"lengthwise\"", "\"belt, 80 grit\""), Some(Level::Note));
    assert_eq!(of("\"lengthwise\"", "\"diamond, 400 grit\""), None);
    assert_eq!(
        of("\"crosswise\"", "\"diamond, fine\""),
        Some(Level::Change)
    );
    let findings = fit(&job(&[("marks", "\"crosswise\"")], dc(80.0)));
    let why = &about(&findings, "marks").unwrap().remark.why;
    assert!(
        why.contains("lengthwise marks start better even when they are rough"),
        "{why}"
    );
}

/// Manual OM-880, Table 6-2 (2.4 mm, DC negative, with oxide: 135–235 A), against the other tables.
#[test]
fn a_current_outside_a_range_names_the_table_that_spoke_and_the_spread() {
    let over_all = fit(&job(&[("taper_deg", "60")], dc(260.0)));
    let current = about(&over_all, "current").unwrap();
    assert_eq!(
        (current.remark.level, current.rows.as_slice()),
        (Level::Change, [2].as_slice())
    );
    assert!(
        current
            .remark
            .source
            .starts_with("manual OM-880, Table 6-2")
    );
    for spread in [
        "135–235 A",
        "p. 32: 150–250 A",
        "p. 16: 100–250 A",
        "p. 49: 100–165 A",
    ] {
        assert!(
            current.remark.source.contains(spread),
            "{}",
            current.remark.source
        );
    }
    assert!(
        current.remark.to_try.starts_with("3.2 mm"),
        "{}",
        current.remark.to_try
    );
    let disputed = fit(&job(&[("taper_deg", "60")], dc(245.0)));
    assert_eq!(level(&disputed, "current"), Some(Level::Look));
    assert_eq!(
        level(&fit(&job(&[("taper_deg", "60")], dc(200.0))), "current"),
        None
    );
    let thick = [("diameter", "\"3.2 mm\""), ("taper_deg", "30")];
    let under_all = fit(&job(&thick, dc(80.0)));
    assert_eq!(
        level(&under_all, "current"),
        Some(Level::Note),
        "the tip table supports it"
    );
    let unsupported = fit(&job(&[("diameter", "\"4.0 mm\"")], dc(80.0)));
    assert_eq!(level(&unsupported, "current"), Some(Level::Look));
    assert!(
        about(&unsupported, "current")
            .unwrap()
            .remark
            .to_try
            .starts_with("1.6 mm")
    );
    let few = fit(&job(&[("diameter", "\"4.0 mm\"")], dc(20.0)));
    let to_try = &about(&few, "current").unwrap().remark.to_try;
    assert!(to_try.starts_with("1 mm"), "15–80 A by the annex: {to_try}");
}

/// Manual OM-880, Table 6-2: columns by polarity, balance and class.
#[test]
fn polarity_balance_and_class_choose_the_column() {
    let outside =
        |change: &[(&str, &str)], run| about(&fit(&job(change, run)), "current").is_some();
    let dcep = |amps| Run {
        process: Some(Process::Dcep),
        ..dc(amps)
    };
    assert!(!outside(&[], dcep(25.0)), "15–30 A");
    assert!(outside(&[], dcep(80.0)));
    assert!(
        !outside(&[], ac(240.0, Some(68.0))),
        "AC unbalanced: 130–250 A"
    );
    assert!(
        outside(&[], ac(240.0, Some(50.0))),
        "AC balanced: 100–180 A"
    );
    let pure = [("class", "\"WP\"")];
    assert!(
        !outside(&pure, ac(110.0, Some(68.0))),
        "AC unbalanced, pure: 100–160 A"
    );
    assert!(outside(&pure, ac(200.0, Some(68.0))));
    let thick = |class| [("class", class), ("diameter", "\"4.8 mm\"")];
    assert!(
        !outside(&thick("\"WZr8\""), ac(540.0, Some(68.0))),
        "zirconium: 400–550 A"
    );
    assert!(
        outside(&thick("\"WTh20\""), ac(540.0, Some(68.0))),
        "thorium: 400–500 A"
    );
    let thin = fit(&job(&[("diameter", "\"1.0 mm\"")], dcep(20.0)));
    assert!(
        about(&thin, "current")
            .unwrap()
            .remark
            .what
            .contains("not recommended")
    );
    let odd = fit(&job(&[("diameter", "\"2.0 mm\"")], dc(100.0)));
    let odd = &about(&odd, "current").unwrap().remark;
    assert!(
        odd.to_try
            .contains("50–160 A for 1.6 mm, 135–235 A for 2.4 mm"),
        "{}",
        odd.to_try
    );
}

#[test]
fn a_needle_near_the_top_and_a_blunt_tip_at_few_amps_are_told() {
    let needle = fit(&job(&[("taper_deg", "20")], dc(220.0)));
    let taper = &about(&needle, "taper").unwrap().remark;
    assert_eq!(taper.level, Level::Change);
    assert!(taper.why.contains("tungsten goes into the weld"));
    let ended = [
        ("taper_deg", "20"),
        ("tip", "\"flat\""),
        ("tip_flat", "\"0.8 mm\""),
    ];
    assert_ne!(
        level(&fit(&job(&ended, dc(220.0))), "taper"),
        Some(Level::Change)
    );
    let blunt = fit(&job(&[("taper_deg", "60")], dc(10.0)));
    assert_eq!(level(&blunt, "taper"), Some(Level::Look));
    assert!(
        about(&blunt, "taper")
            .unwrap()
            .remark
            .to_try
            .contains("20°")
    );
    assert_eq!(
        about(&fit(&job(&[("taper_deg", "60")], dc(140.0))), "taper"),
        None
    );
}

#[test]
fn tips_that_do_not_go_with_the_current_are_told() {
    assert_eq!(
        level(&fit(&job(&[("tip", "\"balled\"")], dc(80.0))), "tip"),
        Some(Level::Change)
    );
    assert_eq!(
        level(&fit(&job(&[("tip", "\"rounded\"")], dc(80.0))), "tip"),
        Some(Level::Change)
    );
    let pointed = fit(&job(&[], ac(150.0, Some(68.0))));
    assert_eq!(level(&pointed, "tip"), Some(Level::Note));
    let pure = fit(&job(&[("class", "\"EWP\"")], ac(110.0, Some(68.0))));
    assert_eq!(level(&pure, "tip"), Some(Level::Look));
    let wide = [("tip", "\"flat\""), ("tip_flat", "\"1.5 mm\"")];
    assert_eq!(
        level(&fit(&job(&wide, dc(150.0))), "tip"),
        Some(Level::Look)
    );
}

#[test]
fn class_start_method_and_stick_out_are_held_against_the_job() {
    let class = |class, run| level(&fit(&job(&[("class", class)], run)), "class");
    assert_eq!(class("\"WZr8\"", dc(150.0)), Some(Level::Change));
    assert_eq!(class("\"WZr8\"", ac(150.0, Some(68.0))), None);
    assert_eq!(class("\"WP\"", dc(150.0)), Some(Level::Look));
    assert_eq!(class("\"EWG\"", dc(150.0)), Some(Level::Note));
    let by = |start_method, run: Run| {
        let run = Run {
            start_method: Some(start_method),
            ..run
        };
        level(&fit(&job(&[], run)), "start method")
    };
    assert_eq!(by(StartMethod::Scratch, dc(80.0)), Some(Level::Look));
    assert_eq!(
        by(StartMethod::Lift, ac(150.0, Some(68.0))),
        Some(Level::Look)
    );
    assert_eq!(by(StartMethod::Lift, dc(80.0)), None);
    assert_eq!(by(StartMethod::Hf, dc(80.0)), None);
    let out = |mm| {
        let run = Run {
            stickout: Length::from_mm(mm),
            ..dc(80.0)
        };
        level(&fit(&job(&[], run)), "stick-out")
    };
    assert_eq!(
        (out(6.0), out(10.0), out(16.0)),
        (None, Some(Level::Note), Some(Level::Change))
    );
}

/// AWS Safety and Health Fact Sheet 27.
#[test]
fn thorium_is_cautioned_with_what_stands_in_for_it() {
    for class in ["\"WTh10\"", "\"EWTh-2\"", "\"WT30\""] {
        let findings = fit(&job(&[("class", class)], dc(150.0)));
        let remark = &about(&findings, "thorium").unwrap().remark;
        assert!(remark.to_try.contains("WLa20") && remark.to_try.contains("never sweep dry"));
        assert_eq!(remark.source, "AWS Safety and Health Fact Sheet 27");
    }
    assert_eq!(about(&fit(&job(&[], dc(150.0))), "thorium"), None);
}

#[test]
fn what_is_not_written_down_is_told_and_nothing_is_made_up_of_it() {
    let nothing = [
        ("class", ""),
        ("diameter", ""),
        ("taper_deg", ""),
        ("tip", ""),
        ("marks", ""),
    ];
    let run = Run {
        set_a: None,
        ..dc(1.0)
    };
    let findings = fit(&job(&nothing, run));
    let said: Vec<&str> = findings.iter().map(|f| f.remark.what.as_str()).collect();
    assert_eq!(
        said,
        [
            "not written down: class, diameter, taper_deg, tip, marks",
            "set_a is empty"
        ]
    );
}

#[test]
fn a_balled_tip_needs_no_taper_written_down() {
    let balled = [("tip", "\"balled\""), ("taper_deg", "")];
    assert_eq!(
        about(&fit(&job(&balled, ac(150.0, Some(70.0)))), "sheet"),
        None
    );
}

#[test]
fn runs_that_ask_the_same_share_a_finding() {
    let mut job = job(&[("taper_deg", "60")], dc(260.0));
    job.runs.push(Run {
        line: 3,
        ..dc(260.0)
    });
    job.runs.push(Run {
        line: 4,
        start_method: Some(StartMethod::Hf),
        ..dc(260.0)
    });
    job.runs.push(Run {
        line: 5,
        ..dc(200.0)
    });
    let findings = fit(&job);
    let current: Vec<_> = findings
        .iter()
        .filter(|f| f.remark.about == "current")
        .collect();
    assert_eq!(current.len(), 1, "{current:#?}");
    assert_eq!(current[0].rows, [2, 3, 4]);
}

/// Lit starts of run 1; `shape` sets their measures and score by their place.
pub(super) fn rows(count: u32, shape: impl Fn(&mut Measures, u32)) -> Vec<StartRow> {
    let row = |start| {
        let mut measures = Measures {
            run_a: Some(150.0),
            lit_a: Some(140.0),
            ..Measures::default()
        };
        shape(&mut measures, start);
        StartRow {
            recording: "a.wav".to_owned(),
            run: 1,
            prep: "A".to_owned(),
            start,
            instants: Instants {
                t_lit_s: Some(f64::from(start)),
                ..Instants::default()
            },
            measures,
            flags: Vec::new(),
            doubt: None,
            score: Some(90.0 - 2.0 * f64::from(start)),
            verdict: None,
            ..StartRow::default()
        }
    };
    (1..=count).map(row).collect()
}

#[test]
fn a_process_that_was_not_the_one_written_down_is_told() {
    let process = |run, hz| {
        let told = after(&job(&[], run), &rows(5, |m, _| m.ac_hz = hz));
        about(&told, "process").map(|f| f.remark.what.clone())
    };
    let told = process(dc(150.0), Some(120.0));
    assert_eq!(told.as_deref(), Some("AC was measured, dc is written down"));
    let told = process(ac(150.0, None), None);
    assert_eq!(told.as_deref(), Some("DC was measured, ac is written down"));
    assert_eq!(process(dc(150.0), None), None);
    assert_eq!(process(ac(150.0, None), Some(120.0)), None);
}

#[test]
fn amps_that_were_not_the_ones_set_are_told() {
    let job = job(&[], dc(150.0));
    assert_eq!(after(&job, &rows(5, |_, _| ())), []);
    let told = after(&job, &rows(5, |m, _| m.run_a = Some(120.0)));
    assert_eq!(
        about(&told, "current").unwrap().remark.what,
        "it ran at 120 A, 150 A were set"
    );
    let told = after(
        &job,
        &rows(5, |m, _| (m.run_a, m.pulse_hz) = (Some(120.0), Some(2.0))),
    );
    assert_eq!(told, [], "a pulsed run has no one level");
    let hot = after(&job, &rows(5, |m, _| m.lit_a = Some(210.0)));
    assert_eq!(
        about(&hot, "current").unwrap().remark.what,
        "it lit at 210 A, 150 A were set"
    );
    assert_eq!(after(&job, &[]), []);
}

#[test]
fn the_tip_after_the_run_stands_beside_what_the_starts_did() {
    let job = job(
        &[],
        Run {
            tip_after: Some("a little ball".to_owned()),
            ..dc(150.0)
        },
    );
    let tip = |count| {
        about(&after(&job, &rows(count, |_, _| ())), "tip")
            .unwrap()
            .clone()
    };
    let long = tip(12);
    assert_eq!(long.remark.level, Level::Look);
    assert!(
        long.remark
            .what
            .contains("\"a little ball\"; the starts went off: median score 83, then 71"),
        "{}",
        long.remark.what
    );
    assert!(tip(4).remark.what.contains("too few to tell"));
}
