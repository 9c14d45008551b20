//! Possible causes of bad starts: which, in which order, and what to try first.

use tipstrike::fit::{Cause, FitFinding, Kind, Seen};
use tipstrike::flag::Flag;
use tipstrike::job::{Length, Run, StartMethod};
use tipstrike::measure::Measures;
use tipstrike::score::after;

use super::after::{rows, says, told_of};
use super::fit::{about, ac, dc, job};

/// Starts of which the first `count` carry a flag.
fn flagged(run: Run, flag: Flag, count: u32, shape: impl Fn(&mut Measures)) -> Vec<FitFinding> {
    let mut rows = rows(8, |m, _| shape(m));
    rows.iter_mut()
        .take(count as usize)
        .for_each(|row| row.flags = vec![flag]);
    after(&job(&[], run), &rows)
}

fn causes(findings: &[FitFinding], what: &str) -> Vec<Cause> {
    match &about(findings, what).expect("a finding").kind {
        Kind::Seen(
            Seen::Late { causes, .. }
            | Seen::Retries { causes, .. }
            | Seen::Wander { causes, .. }
            | Seen::Dropouts { causes, .. }
            | Seen::Overshoot { causes, .. }
            | Seen::Amps { causes, .. },
        ) => causes.clone(),
        other => panic!("{other:?}"),
    }
}

/// Common practice, no source: late strikes come of the gap, the gas, the spark gap or oxide.
#[test]
fn late_strikes_have_ranked_causes_and_one_to_try_first() {
    let late = |m: &mut Measures| (m.delay_ms, m.settle_ms) = (Some(700.0), Some(30.0));
    let told = flagged(dc(150.0), Flag::Slow, 2, late);
    assert_eq!(
        says(&told, "late strikes"),
        "2 of 8 starts were late: they waited about 700 ms for the first current | possible causes, the likeliest \
         first: too long a gap; little gas at the tip (pre-flow, flow, draught); a weak high-frequency spark; oxide on \
         work or tip; a worn or contaminated tip; a poor work clamp; an electrode too thick for the amps | first: \
         strike a few starts at a gap of one diameter, under 3 mm"
    );
    assert_eq!(
        told_of(&flagged(dc(150.0), Flag::Slow, 1, late), "late strikes"),
        None
    );
    // Slow because the current settled late is no late strike.
    let settled_late = |m: &mut Measures| (m.delay_ms, m.settle_ms) = (Some(30.0), Some(700.0));
    assert_eq!(
        told_of(
            &flagged(dc(150.0), Flag::Slow, 4, settled_late),
            "late strikes"
        ),
        None
    );
}

/// What the sheet itself says is too long, too little or worn comes first.
#[test]
fn a_cause_that_the_sheet_speaks_for_is_told_first() {
    let first = |run: Run| causes(&flagged(run, Flag::Retry, 4, |_| ()), "retries")[0];
    assert_eq!(first(dc(150.0)), Cause::LongGap);
    let run = Run {
        tip_after: Some("touched the rod".to_owned()),
        ..dc(150.0)
    };
    assert_eq!(first(run), Cause::Tip);
    let run = Run {
        stickout: Length::from_mm(12.0),
        ..dc(150.0)
    };
    assert_eq!(first(run), Cause::Gas);
    let lifted = Run {
        start_method: Some(StartMethod::Lift),
        ..dc(150.0)
    };
    let of_lift = causes(&flagged(lifted, Flag::Retry, 4, |_| ()), "retries");
    assert!(
        !of_lift.contains(&Cause::LongGap) && !of_lift.contains(&Cause::SparkGap),
        "nothing is jumped"
    );
}

/// A voltage that walks is an arc length that walks: the hand before the tip.
#[test]
fn wander_with_a_slope_is_the_hand_first_and_without_one_the_grind() {
    let wander = |drift_v: Option<f64>| {
        let told = flagged(dc(150.0), Flag::Wander, 4, |m| m.drift_v = drift_v);
        (
            causes(&told, "wander")[0],
            told_of(&told, "wander").unwrap(),
        )
    };
    let (cause, what) = wander(Some(-1.2));
    assert_eq!(
        (cause, what.as_str()),
        (
            Cause::Hand,
            "the arc voltage of 4 of 8 starts wandered, and walked away at 1.20 V/s"
        )
    );
    let (cause, what) = wander(Some(0.1));
    assert_eq!(
        (cause, what.as_str()),
        (Cause::Grind, "the arc voltage of 4 of 8 starts wandered")
    );
    assert_eq!(wander(None).0, Cause::Grind);
}

#[test]
fn overshoot_is_the_hot_start_first_and_dropouts_on_ac_are_oxide_first() {
    let told = flagged(dc(150.0), Flag::Overshoot, 4, |m| {
        m.overshoot_pct = Some(70.0)
    });
    assert_eq!(causes(&told, "overshoot")[0], Cause::HotStart);
    assert_eq!(
        told_of(&told, "overshoot").as_deref(),
        Some("the current of 4 of 8 starts shot past its level, by about 70.0 %")
    );
    let told = flagged(ac(150.0, Some(68.0)), Flag::Dropout, 4, |m| {
        m.ac_hz = Some(90.0)
    });
    assert_eq!(causes(&told, "dropouts")[0], Cause::Oxide);
    assert_eq!(
        causes(&flagged(dc(150.0), Flag::Dropout, 4, |_| ()), "dropouts")[0],
        Cause::LongGap
    );
}

/// docs/flags.md gives the same causes in the same order, and the same first thing to try.
#[test]
fn the_causes_of_the_docs_are_those_that_are_told() {
    let text = std::fs::read_to_string("docs/flags.md").unwrap();
    let (_, likely) = text
        .split_once("## Likely causes")
        .expect("a section of causes");
    let late = |m: &mut Measures| (m.delay_ms, m.settle_ms) = (Some(700.0), Some(30.0));
    let shot = |m: &mut Measures| m.overshoot_pct = Some(70.0);
    for (flag, about, told) in [
        (
            Flag::Slow,
            "late strikes",
            flagged(dc(150.0), Flag::Slow, 4, late),
        ),
        (
            Flag::Retry,
            "retries",
            flagged(dc(150.0), Flag::Retry, 4, |_| ()),
        ),
        (
            Flag::Dropout,
            "dropouts",
            flagged(dc(150.0), Flag::Dropout, 4, |_| ()),
        ),
        (
            Flag::Wander,
            "wander",
            flagged(dc(150.0), Flag::Wander, 4, |_| ()),
        ),
        (
            Flag::Overshoot,
            "overshoot",
            flagged(dc(150.0), Flag::Overshoot, 4, shot),
        ),
    ] {
        let causes = causes(&told, about);
        let words: Vec<&str> = causes.iter().map(|cause| cause.words()).collect();
        let row = format!(
            "| `{}` | {} | {} |",
            flag.name(),
            words.join("; "),
            causes[0].first()
        );
        assert!(likely.contains(&row), "docs/flags.md lacks: {row}");
    }
}
