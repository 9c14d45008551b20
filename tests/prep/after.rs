//! What the measured starts say about the sheet.

use tipstrike::fit::{FitFinding, Level};
use tipstrike::job::{Run, StartMethod};
use tipstrike::measure::Measures;
use tipstrike::score::{StartRow, after};
use tipstrike::start::Instants;

use super::fit::{about, ac, dc, job};

pub(super) fn told_of(findings: &[FitFinding], what: &str) -> Option<String> {
    about(findings, what).map(|f| f.remark().what)
}

pub(super) fn says(findings: &[FitFinding], about_what: &str) -> String {
    let remark = about(findings, about_what).expect("a finding").remark();
    format!("{} | {} | {}", remark.what, remark.why, remark.to_try)
}

/// Starts of another run, of another recording, without an arc, or doubtful, say nothing of this run.
#[test]
fn only_lit_starts_of_the_run_itself_are_held_against_its_row() {
    let job = job(&[], dc(150.0));
    let strange: [fn(&mut StartRow); 4] = [
        |row| row.doubt = Some("the traces do not go together".into()),
        |row| row.run = 2,
        |row| row.recording = "b.wav".into(),
        |row| row.instants.t_lit_s = None,
    ];
    for turn in strange {
        let mut rows = rows(5, |m, _| m.run_a = Some(100.0));
        assert!(told_of(&after(&job, &rows), "current").is_some());
        rows.iter_mut().for_each(turn);
        assert_eq!(after(&job, &rows), []);
    }
}

/// Measured, 5 starts, the shape of each by its number.
fn after_run(run: Run, count: u32, shape: impl Fn(&mut Measures, u32)) -> Vec<FitFinding> {
    after(&job(&[], run), &rows(count, shape))
}

#[test]
fn a_run_is_of_the_process_of_more_than_half_its_starts() {
    let some_ac =
        |count: u32| after_run(dc(150.0), 10, |m, k| m.ac_hz = (k <= count).then_some(90.0));
    assert_eq!(told_of(&some_ac(5), "process"), None);
    assert_eq!(
        told_of(&some_ac(6), "process").as_deref(),
        Some("AC was measured, dc is written down")
    );
}

/// A tenth of the amps set, and 3 A at least, are no fault of the machine.
#[test]
fn amps_within_the_tolerance_are_not_told() {
    let ran = |set: f64, run_a: f64| {
        let told = after_run(dc(set), 5, |m, _| {
            (m.run_a, m.lit_a) = (Some(run_a), Some(set))
        });
        told_of(&told, "current").is_some()
    };
    assert_eq!(
        [
            ran(200.0, 180.0),
            ran(200.0, 220.0),
            ran(20.0, 17.0),
            ran(20.0, 23.0)
        ],
        [false; 4]
    );
    assert_eq!(
        [
            ran(200.0, 179.0),
            ran(200.0, 221.0),
            ran(20.0, 16.5),
            ran(20.0, 23.5)
        ],
        [true; 4]
    );
    let lit = |lit_a: f64| {
        let told = after_run(dc(200.0), 5, |m, _| {
            (m.run_a, m.lit_a) = (Some(200.0), Some(lit_a))
        });
        told_of(&told, "current").is_some()
    };
    assert_eq!(
        [lit(100.0), lit(260.0), lit(99.0), lit(261.0)],
        [false, false, true, true]
    );
}

/// Common practice, no source: under 60 % electrode negative is the cleaning end.
#[test]
fn a_balance_measured_is_held_against_the_sheet_and_the_cleaning_end() {
    let balance = |set, measured| {
        let told = after_run(ac(150.0, set), 5, |m, _| {
            (m.ac_hz, m.en_share_pct) = (Some(90.0), Some(measured))
        });
        about(&told, "balance").map(|f| (f.remark().what, f.remark().why))
    };
    assert_eq!(balance(Some(70.0), 65.0), None);
    assert_eq!(balance(None, 70.0), None);
    assert_eq!(balance(None, 60.0), None);
    let (what, why) = balance(Some(70.0), 76.0).unwrap();
    assert_eq!(
        what,
        "76 % electrode negative was measured, 70 % written down"
    );
    assert!(
        why.starts_with("the run was not welded as written down"),
        "{why}"
    );
    let (what, why) = balance(None, 35.0).unwrap();
    assert_eq!(what, "35 % electrode negative was measured");
    assert!(why.starts_with("this is the cleaning end"), "{why}");
}

/// Starts that fall by so many points in the second half, and a tip that looked like this.
fn worn(count: u32, fall: f64, tip_after: &str) -> Option<(Level, String, String)> {
    let run = Run {
        tip_after: Some(tip_after.to_owned()),
        ..dc(150.0)
    };
    let mut rows = rows(count, |_, _| ());
    for (k, row) in rows.iter_mut().enumerate() {
        let later = if k < count as usize / 2 { 0.0 } else { fall };
        row.score = Some(90.0 - later);
    }
    let told = after(&job(&[], run), &rows);
    about(&told, "tip").map(|f| (f.level(), f.remark().what, f.remark().why))
}

#[test]
fn a_fall_of_ten_points_over_ten_starts_is_going_off_and_over_nine_is_too_few() {
    let (level, what, why) = worn(10, 10.0, "blunt").unwrap();
    assert_eq!(
        what,
        "tip after the run: \"blunt\"; the starts went off: median score 90, then 80"
    );
    assert_eq!(level, Level::Look);
    assert!(why.contains("tell the same story"), "{why}");
    assert_eq!(worn(9, 30.0, "blunt"), None);
}

/// What eye and figures agree is well needs no finding.
#[test]
fn the_eye_on_the_tip_is_told_where_it_or_the_figures_see_wear() {
    assert_eq!(worn(10, 9.0, "clean"), None);
    let (level, what, why) = worn(10, 9.0, "a little ball").unwrap();
    assert!(
        what.ends_with("the starts held: median score 90, then 81"),
        "{what}"
    );
    assert_eq!(
        (level, why.as_str()),
        (
            Level::Note,
            "the eye sees wear that the starts do not show yet"
        )
    );
    let (level, _, why) = worn(10, 15.0, "as ground").unwrap();
    assert_eq!(
        (level, why.as_str()),
        (Level::Look, "the figures see it before the eye does")
    );
}

/// A straight ramp spends four fifths of its time between 10 % and 90 %.
#[test]
fn an_up_slope_is_held_against_the_rise() {
    let slope = |upslope_s: Option<f64>, rise_ms: f64| {
        let run = Run {
            upslope_s,
            ..dc(150.0)
        };
        told_of(
            &after_run(run, 5, |m, _| m.rise_ms = Some(rise_ms)),
            "up-slope",
        )
    };
    assert_eq!(slope(Some(0.5), 400.0), None);
    assert_eq!(
        slope(Some(0.5), 10.0).as_deref(),
        Some("the current rose within 10.0 ms, an up-slope of 0.5 s is written down")
    );
    assert_eq!(slope(None, 150.0), None);
    assert_eq!(
        slope(None, 400.0).as_deref(),
        Some("the current took 400 ms to rise, no up-slope is written down")
    );
    assert_eq!(slope(Some(2.0), 10.0), None, "longer than the window");
}

/// With one attempt, what lies between the first current and the arc is a touch.
#[test]
fn a_start_method_is_held_against_the_touch() {
    let method = |written, stutter_ms: f64, run_v| {
        let run = Run {
            start_method: Some(written),
            ..dc(150.0)
        };
        let told = after_run(run, 5, |m, _| {
            (m.stutter_ms, m.attempts, m.run_v) = (Some(stutter_ms), Some(1.0), run_v);
        });
        told_of(&told, "start method")
    };
    assert_eq!(method(StartMethod::Hf, 0.1, Some(14.0)), None);
    assert_eq!(
        method(StartMethod::Hf, 60.0, Some(14.0)).as_deref(),
        Some("the tip touched for about 60.0 ms before the arc, hf is written down")
    );
    assert_eq!(
        method(StartMethod::Hf, 60.0, None),
        None,
        "without a voltage a touch cannot be told"
    );
    assert_eq!(method(StartMethod::Lift, 60.0, Some(14.0)), None);
    assert_eq!(
        method(StartMethod::Lift, 0.5, Some(14.0)).as_deref(),
        Some("the arc lit without a touch, lift is written down")
    );
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
            recording: "a.wav".into(),
            run: 1,
            prep: "A".into(),
            coupon: None,
            start,
            instants: Instants {
                t_lit_s: Some(f64::from(start)),
                ..Instants::default()
            },
            measures: (&measures).into(),
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
        about(&told, "process").map(|f| f.remark().what)
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
        about(&told, "current").unwrap().remark().what,
        "it ran at 120 A, 150 A were set"
    );
    let told = after(
        &job,
        &rows(5, |m, _| (m.run_a, m.pulse_hz) = (Some(120.0), Some(2.0))),
    );
    assert_eq!(told, [], "a pulsed run has no one level");
    let hot = after(&job, &rows(5, |m, _| m.lit_a = Some(210.0)));
    assert_eq!(
        about(&hot, "current").unwrap().remark().what,
        "it lit at 210 A, 150 A were set"
    );
    assert_eq!(after(&job, &[]), []);
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
