//! Levels, gaps, spans and openings: what is taken for a start.

use tipstrike::demo::Chance;
use tipstrike::flag::Flag;
use tipstrike::job::{Context, Logger, Measuring};
use tipstrike::recording::Recording;
use tipstrike::start::{Levels, find};

use super::{RATE, near, only, recording, steady};

#[test]
fn only_starts_that_begin_in_the_span_asked_for_are_told() {
    let made = recording(4.5, |t| steady(t % 2.0).0, |t| steady(t % 2.0).1);
    let begins = |span_s: (f64, f64)| {
        let context = Context {
            span_s,
            ..Context::default()
        };
        let found = find(&made, &Measuring::default(), &context).unwrap();
        found.len()
    };
    assert_eq!(begins((0.0, 4.0)), 2);
    assert_eq!((begins((0.6, 4.0)), begins((0.0, 2.4))), (1, 1));
    assert_eq!(begins((0.6, 2.4)), 0);
    // Spans that meet share no start: one begins with the span's begin, and not with its end.
    let all = find(&made, &Measuring::default(), &Context::default()).unwrap();
    let second = all[1].instants.t_first_s.unwrap();
    assert_eq!((begins((0.0, second)), begins((second, 4.0))), (1, 1));
}

/// Rows are missing from 2 s to 2.6 s: the second start is cut off by that gap, the first one and the third are not, and
/// all have their own time.
#[test]
fn a_gap_cuts_off_the_start_that_it_comes_into() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("gap.csv");
    let on = |t: f64| (0.3..1.5).contains(&t) || (1.8..2.2).contains(&t) || (2.9..4.0).contains(&t);
    let rows = (0..4500).filter(|k| !(2000..2600).contains(k)).map(|k| {
        let t = f64::from(k) / 1000.0;
        let (amps, volts) = if on(t) { (80.0, 12.0) } else { (0.0, 0.0) };
        format!("{t:.3},{amps},{volts}\n")
    });
    let rows: String = rows.collect();
    std::fs::write(&path, format!("time_s,current_a,voltage_v\n{rows}")).unwrap();
    let made = Recording::open(&path, &Logger::default()).unwrap();
    let found = find(&made, &Measuring::default(), &Context::default()).unwrap();
    let seen: Vec<(f64, bool, bool)> = found
        .iter()
        .map(|s| {
            (
                s.instants.t_first_s.unwrap(),
                s.flags.contains(&Flag::Gap),
                s.flags.contains(&Flag::CutOff),
            )
        })
        .collect();
    assert_eq!(seen.len(), 3, "{seen:?}");
    for (seen, (first_s, cut)) in seen.iter().zip([(0.3, false), (1.8, true), (2.9, false)]) {
        near(Some(seen.0), first_s, 1.1e-3);
        assert_eq!((seen.1, seen.2), (cut, cut), "{first_s}");
    }
}

/// docs/measures.md: six times the idle noise, but 1 A at least; released at 0.6 of it.
#[test]
fn the_conduct_level_keeps_clear_of_the_idle_noise() {
    let mut chance = Chance::new(8, 0);
    let mut levels = |noise: f64| {
        let amps = (0..(2.5 * RATE) as usize)
            .map(|k| steady(k as f64 / RATE).0 + noise * chance.normals().0)
            .collect();
        let made = Recording::from_samples("made", RATE, amps, Vec::new());
        Levels::of(made.survey(), &Measuring::default())
    };
    near(Some(levels(0.5).conduct_a), 3.0, 0.15);
    let quiet = levels(0.1);
    near(Some(quiet.conduct_a), 1.0, 0.0);
    near(Some(quiet.release_a), 0.6, 1e-12);
}

/// docs/measures.md: 30 V; where the recording never reaches that, three times the arc voltage.
#[test]
fn the_open_level_is_three_arcs_where_the_recording_never_reaches_thirty_volts() {
    let open_v = |arc: f64, open: f64| {
        let volts = |t: f64| match steady(t).0 {
            0.0 if (0.3..0.5).contains(&t) => open,
            0.0 => 0.0,
            _ => arc,
        };
        let made = recording(2.5, |t| steady(t).0, volts);
        Levels::of(made.survey(), &Measuring::default()).open_v
    };
    near(Some(open_v(8.0, 25.0)), 24.0, 0.1);
    near(Some(open_v(8.0, 31.0)), 30.0, 0.0);
    near(Some(open_v(8.0, -31.0)), 30.0, 0.0);
    near(Some(open_v(12.0, 25.0)), 30.0, 0.0);
    near(Some(open_v(0.0, 0.0)), 30.0, 0.0);
    // Arcs of either direction count, alternating current does not: its voltage has no mean.
    let alternating = |t: f64| if (t * 90.0).fract() < 0.5 { 1.0 } else { -1.0 };
    let sign = |t: f64| match t {
        2.0.. => -alternating(t),
        _ => -1.0,
    };
    let arc = |t: f64, level: f64| if t > 0.5 { level * sign(t) } else { 0.0 };
    let made = recording(6.0, |t| arc(t, 80.0), |t| arc(t, 8.0));
    near(
        Some(Levels::of(made.survey(), &Measuring::default()).open_v),
        24.0,
        0.1,
    );
}

#[test]
fn a_voltage_just_over_the_short_level_is_an_arc() {
    let at = |t: f64| match t {
        t if (0.5..1.0).contains(&t) => (40.0, 1.0),
        t if (1.0..2.0).contains(&t) => (40.0, 5.5),
        t if (2.0..3.0).contains(&t) => (40.0, 12.0),
        _ => (0.0, 0.0),
    };
    let start = only(
        recording(3.5, |t| at(t).0, |t| at(t).1),
        &Context::default(),
    );
    near(start.instants.t_lit_s, 1.0, 1e-4);
}

#[test]
fn a_circuit_that_was_open_when_the_recording_began_has_no_opening() {
    let volts = |t: f64| if t < 0.5 { 70.0 } else { steady(t).1 };
    let start = only(recording(2.5, |t| steady(t).0, volts), &Context::default());
    assert_eq!(start.instants.t_open_s, None);
    assert!(start.flags.contains(&Flag::CutOff));
}
