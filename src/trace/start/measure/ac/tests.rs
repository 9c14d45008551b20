use super::*;
use crate::start::find::tracker::{Event, Tracker};

fn run(sign: i8, on: f64, off: f64) -> ConductRun {
    ConductRun {
        sign,
        span: Span { on, off },
    }
}

const ALL: Span = Span { on: 0.0, off: 1e9 };

/// Straight from −0.6 of the level to the whole of it, zero stands after 0.6/1.6 of the pause.
#[test]
fn a_half_cycle_goes_from_zero_to_zero_and_needs_both() {
    let runs = [
        run(1, 0.0, 9.0),
        run(-1, 11.0, 18.0),
        run(1, 22.0, 29.0),
        run(-1, 31.0, 37.0),
        // Half a period is too long a pause: this one is no neighbour.
        run(1, 47.0, 55.0),
        run(-1, 57.0, 60.0),
    ];
    let within = |on: f64, off: f64| half_cycles(&runs, Span { on, off }, 20.0, 0.6);
    let half = |sign: i8, on: f64, off: f64| HalfCycle {
        sign,
        span: Span { on, off },
    };
    let (first, second) = (half(-1, 9.75, 19.5), half(1, 19.5, 29.75));
    assert_eq!(within(0.0, 100.0), [first, second]);
    assert_eq!(within(9.75, 29.75), [first, second]);
    assert_eq!(within(10.0, 29.75), [second]);
    assert_eq!(within(9.75, 29.0), [first]);
    // Twice into one sign within a period, and a half-cycle that is longer than a period, are none.
    let twice = [
        run(1, 0.0, 9.0),
        run(-1, 11.0, 13.0),
        run(1, 23.0, 25.0),
        run(-1, 26.6, 27.0),
    ];
    assert_eq!(half_cycles(&twice, ALL, 20.0, 0.6), []);
    let long = [run(1, 0.0, 9.0), run(-1, 11.0, 34.0), run(1, 36.0, 40.0)];
    assert_eq!(half_cycles(&long, ALL, 20.0, 0.6), []);
    let period = [run(1, 0.0, 9.0), run(-1, 11.0, 29.0), run(1, 31.0, 40.0)];
    assert_eq!(half_cycles(&period, ALL, 20.0, 0.6), []);
}

/// `cycles` whole cycles of straight lines through (0, −50), (4, 100), (24, 100), (28, −50), (40, −50), with what stands
/// before and after them.
fn trapezoids(cycles: usize) -> Trace {
    let wave = |k: usize| match k % 40 {
        k @ 0..4 => -50.0 + 37.5 * k as f64,
        4..24 => 100.0,
        k @ 24..28 => 100.0 - 37.5 * (k - 24) as f64,
        _ => -50.0,
    };
    Trace {
        rate_hz: 4000.0,
        first: 7,
        amps: (20..40 * cycles + 50).map(wave).collect(),
        volts: Vec::new(),
    }
}

fn runs(trace: &Trace) -> Vec<ConductRun> {
    let mut tracker = Tracker::new(1.0, 0.6, 1);
    let frames = (trace.first..).zip(&trace.amps);
    let mut events: Vec<Event> = frames
        .flat_map(|(n, x)| tracker.push(n, *x))
        .flatten()
        .collect();
    let end = trace.frame(trace.amps.len() as f64);
    events.extend(tracker.end_at(end).map(Event::Off));
    let told = events.iter().filter_map(|e| match e {
        Event::Off(run) => Some(*run),
        Event::On(_) => None,
    });
    told.collect()
}

/// Up through zero a third of a cycle's 4-sample slope, down through it two thirds: 25⅓ of 40 samples lie over zero.
#[test]
fn share_and_frequency_of_straight_lines_are_exact() {
    let near = |seen: f64, expected: f64| {
        assert!((seen - expected).abs() < 1e-9, "{seen} is not {expected}");
    };
    let told = |cycles: usize, sign: i8| {
        let trace = trapezoids(cycles);
        alternation(
            &runs(&trace),
            ALL,
            40.0,
            sign,
            &trace,
            &Measuring::default(),
        )
    };
    for cycles in [2, 9] {
        let over = told(cycles, 1).unwrap();
        near(over.share, (25.0 + 1.0 / 3.0) / 40.0);
        near(over.cycles_per_frame, 1.0 / 40.0);
        assert_eq!((over.missed, over.missed_of_sign), (0, 0));
    }
    near(told(9, -1).unwrap().share, (14.0 + 2.0 / 3.0) / 40.0);
    assert_eq!(told(1, 1), None);
}

/// One and a half half-cycles of 20 samples are a dropout: without one run the pause is 14 samples long, without three
/// runs 54.
#[test]
fn a_missed_half_cycle_is_told_of_its_sign_and_a_dropout_is_none() {
    let trace = trapezoids(12);
    let told = |left_out: std::ops::Range<usize>, sign: i8| {
        let mut runs = runs(&trace);
        runs.drain(left_out);
        let told = alternation(&runs, ALL, 40.0, sign, &trace, &Measuring::default());
        told.map(|t| (t.missed, t.missed_of_sign))
    };
    // The runs begin with a positive one.
    assert_eq!(
        (told(9..10, 1), told(9..10, -1)),
        (Some((1, 0)), Some((1, 1)))
    );
    assert_eq!(told(9..12, -1), Some((0, 0)));
    // The run after the missing one 20 samples later: a pause of 34.
    let mut late = runs(&trace);
    late.remove(9);
    late[9].span.on += 20.0;
    let told = alternation(&late, ALL, 40.0, 1, &trace, &Measuring::default());
    assert_eq!(told.map(|t| t.missed), Some(0));
}

/// Straight from −1 to 3 three quarters of the interval lie over zero; of nothing but zeros, nothing.
#[test]
fn an_interval_is_parted_at_its_straight_line_zero() {
    let trace = [-1.0, 3.0, 2.0, -6.0, -1.0];
    assert_eq!(intervals_of_sign(&trace, 1.0), 0.75 + 1.0 + 0.25);
    assert_eq!(intervals_of_sign(&trace, -1.0), 0.25 + 0.75 + 1.0);
    assert_eq!(intervals_of_sign(&[0.0, 0.0, 2.0], 1.0), 1.0);
}

#[test]
fn a_frequency_is_that_of_whole_periods_from_the_first_to_the_last_change_into_the_sign() {
    let changes = [(0.0, -1), (3.0, 1), (10.0, -1), (16.0, 1), (22.0, -1)];
    assert_eq!(whole_cycles(&changes, -1, 11.0), Some(11.0));
    assert_eq!(whole_cycles(&changes, 1, 13.0), Some(13.0));
    // One change was missed: four periods all the same.
    let missed = [0.0, 10.0, 20.0, 40.0].map(|at| (at, 1));
    assert_eq!(whole_cycles(&missed, 1, 10.0), Some(10.0));
    assert_eq!(whole_cycles(&changes[..2], 1, 13.0), None);
}

/// Positive for 80 of 100 frames. A pause of a sign is a missed half-cycle of the other one from half of *its* length on,
/// 10 and 40 frames, and a dropout from 150 frames on.
#[test]
fn a_missed_half_cycle_is_a_pause_of_more_than_half_its_length() {
    const NONE: [i8; 0] = [];
    let missed_within = |window: Span, change: &dyn Fn(&mut Vec<ConductRun>)| {
        let mut all: Vec<ConductRun> = (0..20)
            .map(|k| 100.0 * f64::from(k))
            .flat_map(|t| [run(1, t + 1.0, t + 79.0), run(-1, t + 81.0, t + 99.0)])
            .collect();
        let halves = half_cycles(&all, ALL, 100.0, 0.6);
        change(&mut all);
        missed(&all, window, &halves, 150.0)
    };
    let missed_in = |change: &dyn Fn(&mut Vec<ConductRun>)| missed_within(ALL, change);
    let without = |from: f64, to: f64| {
        move |all: &mut Vec<ConductRun>| all.retain(|r| !(from..to).contains(&r.span.on))
    };
    let paused = |k: usize, off: f64, on: f64| {
        move |all: &mut Vec<ConductRun>| {
            let whole = all[k];
            all[k].span.off = off;
            all.insert(k + 1, run(whole.sign, on, whole.span.off));
        }
    };
    assert_eq!(missed_in(&|_| {}), NONE);
    assert_eq!(missed_in(&without(580.0, 590.0)), [-1]);
    assert_eq!(missed_in(&without(600.0, 610.0)), [1]);
    assert_eq!(missed_in(&without(600.0, 750.0)), NONE);
    assert_eq!(missed_in(&paused(4, 220.0, 229.0)), NONE);
    assert_eq!(missed_in(&paused(4, 220.0, 230.0)), NONE);
    assert_eq!(missed_in(&paused(4, 220.0, 231.0)), [-1]);
    assert_eq!(missed_in(&paused(5, 283.0, 296.0)), NONE);
    let pause = |on: f64| missed(&[run(1, 0.0, 10.0), run(1, on, 170.0)], ALL, &[], 150.0);
    assert_eq!((pause(159.0), pause(160.0)), (vec![-1], vec![]));
    let span = |on: f64, off: f64| Span { on, off };
    // The pause from 579 to 601 lies inside or not.
    let one = |window: Span| missed_within(window, &without(580.0, 590.0));
    assert_eq!(one(span(579.0, 601.0)), [-1]);
    assert_eq!(one(span(580.0, 900.0)), NONE);
    assert_eq!(one(span(0.0, 600.0)), NONE);
}

/// Half-waves of 9 frames with a missing one behind the third: the row has a hole where nothing is told, and here a half-cycle for it.
#[test]
fn what_did_not_burn_stands_in_the_unbroken_row() {
    let wave = |k: i32| {
        let on = 10.0 * f64::from(k);
        run(if k % 2 == 0 { 1 } else { -1 }, on, on + 9.0)
    };
    let measuring = Measuring::default();
    let row = |runs: &[ConductRun]| {
        let halves = half_cycles(runs, ALL, 20.0, measuring.conduct_release);
        unbroken(runs, ALL, 20.0, &halves, &measuring)
    };
    let whole: Vec<ConductRun> = (0..12).map(wave).collect();
    assert_eq!(row(&whole), []);
    let mut holed = whole;
    holed.remove(5);
    let seen = row(&holed);
    let gap = seen.iter().position(|h| h.span.on == 49.0).unwrap();
    assert_eq!((seen[gap].sign, seen[gap].span.off), (-1, 60.0));
    // One behind the other, with no hole.
    assert!(seen.windows(2).all(|w| w[0].span.off == w[1].span.on));
    assert!(seen.windows(2).all(|w| w[0].sign != w[1].sign));
}
