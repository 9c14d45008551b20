//! What fit and score say, where a turned comparison would say the opposite.

use tipstrike::fit::{FitFinding, fit};
use tipstrike::flag::Flag;
use tipstrike::job::Run;
use tipstrike::score::{after, explain};
use tipstrike::start::Start;

use super::fit::{about, ac, dc, job, rows};
use super::score::{self, good_start};

fn says(findings: &[FitFinding], about_what: &str) -> String {
    let remark = &about(findings, about_what).expect("a finding").remark;
    format!("{} | {} | {}", remark.what, remark.why, remark.to_try)
}

/// Common practice, no source: over 80 % electrode negative cleans little.
#[test]
fn a_balance_with_little_cleaning_is_told() {
    let told = says(&fit(&job(&[], ac(80.0, Some(90.0)))), "balance");
    assert!(
        told.starts_with("90 % electrode negative leaves little cleaning"),
        "{told}"
    );
    assert!(about(&fit(&job(&[], ac(80.0, Some(70.0)))), "balance").is_none());
}

/// A quarter to a half of 2.4 mm.
#[test]
fn the_flat_to_grind_is_a_quarter_to_a_half_of_the_diameter() {
    let wide = [("tip", "\"flat\""), ("tip_flat", "\"1.5 mm\"")];
    let told = says(&fit(&job(&wide, dc(120.0))), "tip");
    assert!(told.ends_with("a flat of 0.6–1.2 mm"), "{told}");
}

#[test]
fn a_blunt_taper_at_few_amps_is_told_on_dc_alone() {
    let blunt = [("taper_deg", "90")];
    let told = says(&fit(&job(&blunt, dc(10.0))), "taper");
    assert!(
        told.starts_with("a blunt taper of 90° is asked to start at 10 A"),
        "{told}"
    );
    let on_ac = fit(&job(&blunt, ac(10.0, Some(70.0))));
    assert!(
        on_ac
            .iter()
            .all(|f| !f.remark.what.contains("asked to start"))
    );
}

#[test]
fn a_class_is_told_with_both_its_names() {
    let told = says(&fit(&job(&[("class", "\"WTh20\"")], dc(80.0))), "thorium");
    assert!(told.starts_with("WTh20 (EWTh-2) holds thorium"), "{told}");
}

#[test]
fn a_start_that_lights_with_other_amps_than_set_is_told_unless_the_current_is_ramped() {
    let told = |lit: f64, upslope_s: Option<f64>| {
        let run = Run {
            upslope_s,
            ..dc(150.0)
        };
        after(&job(&[], run), &rows(5, |m, _| m.lit_a = Some(lit)))
    };
    let hot = says(&told(210.0, Some(0.0)), "current");
    assert!(
        hot.starts_with("it lit at 210 A, 150 A were set | a hot start"),
        "{hot}"
    );
    let cold = says(&told(60.0, None), "current");
    assert!(
        cold.contains("| fewer amps heat the tip more slowly"),
        "{cold}"
    );
    assert!(told(60.0, Some(0.5)).is_empty());
}

#[test]
fn what_made_a_start_rough_or_fair_is_said() {
    let because = |change: fn(&mut Start)| {
        let mut start = good_start();
        change(&mut start);
        let (row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
        explain(&row, &score)[1].clone()
    };
    let one_dropout = because(|s| s.measures.dropouts = Some(1.0));
    assert!(one_dropout.contains("it dropped out (1×)") && !one_dropout.contains("attempts"));
    let three = because(|s| s.measures.attempts = Some(3.0));
    assert!(
        three.contains("3 attempts are more than 2") && !three.contains("dropped"),
        "{three}"
    );
    let two = because(|s| s.measures.attempts = Some(2.0));
    assert!(
        two.contains("it took 2 attempts") && !two.contains("counted"),
        "{two}"
    );
    let uncounted = because(|s| s.measures.dropouts = None);
    assert!(uncounted.contains("could not be counted"), "{uncounted}");
}

#[test]
fn what_a_slow_rate_spoilt_is_named() {
    let spoilt = |process: &str, rise_ms: Option<f64>, ac_hz: Option<f64>| {
        let mut start = good_start();
        start.flags = vec![Flag::SlowRate];
        (start.measures.rise_ms, start.measures.ac_hz) = (rise_ms, ac_hz);
        let (mut row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
        row.sheet.insert("process".to_owned(), process.to_owned());
        explain(&row, &score).pop().unwrap()
    };
    let low = "The sample rate is too low for ";
    assert_eq!(spoilt("dc", None, None), format!("{low}the rise."));
    assert_eq!(
        spoilt("ac", None, None),
        format!("{low}the rise and the measures of AC.")
    );
    assert_eq!(
        spoilt("ac", Some(1.0), None),
        format!("{low}the measures of AC.")
    );
    assert_eq!(
        spoilt("ac", Some(1.0), Some(90.0)),
        format!("{low}the top of the wander band.")
    );
}
