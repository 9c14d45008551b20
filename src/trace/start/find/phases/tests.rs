//! Instants of starts that are laid out by hand.

use super::*;

const RATE: f64 = 1000.0; // a frame is a millisecond

fn group(runs: &[(i8, f64, f64)]) -> EventGroup {
    let runs: Vec<ConductRun> = runs
        .iter()
        .map(|&(sign, on, off)| ConductRun {
            sign,
            span: Span { on, off },
        })
        .collect();
    EventGroup {
        last_off: runs.last().map_or(0.0, |r| r.span.off),
        runs,
        ..EventGroup::default()
    }
}

#[test]
fn the_attempt_that_leads_to_the_arc_counts_as_one() {
    let a = group(&[(1, 10.0, 12.0), (1, 20.0, 25.0), (1, 40.0, 2000.0)])
        .phases(&Measuring::default(), RATE);
    assert_eq!((a.first, a.lit, a.attempts), (Some(10.0), Some(40.0), 3));
    assert!(a.dropouts.is_empty());
}

#[test]
fn a_gap_shorter_than_the_dropout_minimum_is_no_break() {
    let a = group(&[(1, 10.0, 12.0), (1, 12.4, 2000.0)]).phases(&Measuring::default(), RATE);
    assert_eq!((a.lit, a.attempts), (Some(10.0), 1));
    // At least half a millisecond is one.
    let a = group(&[(1, 10.0, 12.0), (1, 12.5, 2000.0)]).phases(&Measuring::default(), RATE);
    assert_eq!((a.lit, a.attempts), (Some(12.5), 2));
    let half_cycles = ArcKind::Ac { period: 20.0 };
    assert_eq!(half_cycles.dropout_min(&Measuring::default(), RATE), 15.0);
}

#[test]
fn a_dropout_is_a_gap_after_lit_inside_the_window() {
    let a = group(&[(1, 10.0, 500.0), (1, 520.0, 1500.0), (1, 1510.0, 2000.0)])
        .phases(&Measuring::default(), RATE);
    assert_eq!(
        a.dropouts,
        [Span {
            on: 500.0,
            off: 520.0
        }]
    );
    assert_eq!(
        a.window,
        Some(Span {
            on: 10.0,
            off: 1010.0
        })
    );
}

#[test]
fn a_touch_start_is_lit_when_the_tungsten_leaves() {
    let mut g = group(&[(1, 10.0, 2000.0)]);
    g.low.push(Span {
        on: 10.0,
        off: 95.0,
    });
    let a = g.phases(&Measuring::default(), RATE);
    assert_eq!((a.first, a.lit, a.attempts), (Some(10.0), Some(95.0), 1));
    assert!(a.touches.is_empty());
}

#[test]
fn nothing_that_holds_means_never_lit() {
    let a = group(&[(1, 10.0, 20.0), (1, 30.0, 45.0)]).phases(&Measuring::default(), RATE);
    assert_eq!((a.lit, a.attempts, a.window), (None, 2, None));
}

#[test]
fn half_cycles_make_an_alternating_arc_without_dropouts() {
    let runs: Vec<(i8, f64, f64)> = (0..200)
        .map(|k| {
            (
                if k % 2 == 0 { 1 } else { -1 },
                10.0 * k as f64 + 1.0,
                10.0 * k as f64 + 9.0,
            )
        })
        .collect();
    let a = group(&runs).phases(&Measuring::default(), RATE);
    assert_eq!(a.process, ArcKind::Ac { period: 20.0 });
    assert_eq!((a.lit, a.dropouts.len(), a.attempts), (Some(1.0), 0, 1));
}

#[test]
fn a_gap_that_begins_with_the_windows_end_is_none_of_it() {
    let runs = [(1, 10.0, 1010.0), (1, 1030.0, 2000.0)];
    let a = group(&runs).phases(&Measuring::default(), RATE);
    assert!(a.dropouts.is_empty(), "{:?}", a.dropouts);
}

/// The window is 1 s: what begins a second and more after it is forgotten, and the anatomy stays as it was.
#[test]
fn an_arc_of_hours_keeps_what_lies_about_its_window() {
    let runs: Vec<(i8, f64, f64)> = (0..40)
        .map(|k| (1, 10.0 + 100.0 * f64::from(k), 108.0 + 100.0 * f64::from(k)))
        .collect();
    let mut g = group(&runs);
    let touch = |on: f64| Span { on, off: on + 5.0 };
    g.low = vec![touch(500.0), touch(2010.0)];
    let before = g.phases(&Measuring::default(), RATE);
    g.forget_after_window(&Measuring::default(), RATE);
    let after = g.phases(&Measuring::default(), RATE);
    assert_eq!(g.runs.last().map(|r| r.span.on), Some(1910.0));
    assert_eq!(g.low, [touch(500.0)]);
    assert_eq!((before.lit, before.window), (after.lit, after.window));
    assert_eq!(
        (before.dropouts, before.touches),
        (after.dropouts, after.touches)
    );
}

/// Electrode negative for 10 ms at 10 ms and 30 ms of every 40 ms, positive only at 0 ms: the half-cycle at 20 ms is missing.
/// A period is told only where both changes of three runs are: 20 ms.
#[test]
fn a_missing_half_cycle_makes_no_longer_period() {
    let runs: Vec<(i8, f64, f64)> = (0..20)
        .map(|k| 40.0 * f64::from(k))
        .flat_map(|t| [(1, t), (-1, t + 10.0), (-1, t + 30.0)])
        .map(|(sign, on)| (sign, on, on + 9.0))
        .collect();
    let process = |runs: &[(i8, f64, f64)]| ArcKind::of(&group(runs).runs, RATE);
    assert_eq!(process(&runs), ArcKind::Ac { period: 20.0 });
    // Six changes of sign make it alternating: in ten runs there are so many, in nine one less.
    assert_eq!(process(&runs[..9]), ArcKind::Dc);
    assert_eq!(process(&runs[..10]), ArcKind::Ac { period: 20.0 });
    // Runs of 1 ms every 26 ms have pauses of 25 ms, which is too long.
    let slow = |off: f64| -> Vec<(i8, f64, f64)> {
        let signs = [1, -1].into_iter().cycle().zip(0..20);
        let on = signs.map(|(sign, k)| (sign, 26.0 * f64::from(k)));
        on.map(|(sign, on)| (sign, on, on + off)).collect()
    };
    assert_eq!(process(&slow(1.0)), ArcKind::Dc);
    assert_eq!(process(&slow(1.1)), ArcKind::Ac { period: 52.0 });
}

/// A window is short where more than one frame of the second is missing.
#[test]
fn a_window_that_lacks_more_than_a_frame_is_short() {
    let short = |off: f64| {
        let a = group(&[(1, 10.0, off)]).phases(&Measuring::default(), RATE);
        a.short_window
    };
    assert!(short(1008.9));
    assert!(!short(1009.0) && !short(1009.5) && !short(2000.0));
}

/// Pauses of under 0.5 ms part no touch, and 0.5 ms make one.
#[test]
fn touches_are_joined_over_short_pauses_and_counted_from_their_length_on() {
    let touches = |low: &[(f64, f64)]| {
        let mut g = group(&[(1, 10.0, 2000.0)]);
        g.low = low.iter().map(|&(on, off)| Span { on, off }).collect();
        g.phases(&Measuring::default(), RATE).touches
    };
    assert_eq!(
        touches(&[(100.0, 100.3), (100.7, 101.0)]),
        [Span {
            on: 100.0,
            off: 101.0
        }]
    );
    assert_eq!(touches(&[(100.0, 100.3), (100.9, 101.2)]), []);
    assert_eq!(touches(&[(100.0, 100.5)]).len(), 1);
}

#[test]
fn what_is_taken_out_of_a_span_leaves_the_pieces_between() {
    let span = |on: f64, off: f64| Span { on, off };
    let left = |holes: &[Span]| without(span(10.0, 20.0), holes);
    assert_eq!(left(&[]), [span(10.0, 20.0)]);
    assert_eq!(
        left(&[span(12.0, 13.0), span(15.0, 16.0)]),
        [span(10.0, 12.0), span(13.0, 15.0), span(16.0, 20.0)]
    );
    assert_eq!(left(&[span(10.0, 12.0)]), [span(12.0, 20.0)]);
    assert_eq!(left(&[span(18.0, 20.0)]), [span(10.0, 18.0)]);
    assert_eq!(
        left(&[span(8.0, 11.0), span(19.0, 25.0)]),
        [span(11.0, 19.0)]
    );
    assert_eq!(left(&[span(5.0, 25.0)]), []);
    // Beside the span, and up to it.
    assert_eq!(
        left(&[span(1.0, 10.0), span(20.0, 30.0)]),
        [span(10.0, 20.0)]
    );
}

#[test]
fn an_arc_is_out_where_its_last_current_ends_unless_the_recording_ends_first() {
    let phases = |cut_end: bool| {
        let mut g = group(&[(1, 10.0, 12.0), (1, 20.0, 500.0)]);
        g.cut_end = cut_end;
        g.phases(&Measuring::default(), RATE)
    };
    assert_eq!((phases(false).out, phases(true).out), (Some(500.0), None));
    let none = EventGroup {
        open: Some(5.0),
        last_off: 5.0,
        ..EventGroup::default()
    };
    let a = none.phases(&Measuring::default(), RATE);
    assert_eq!((a.first, a.out, a.attempts), (None, None, 0));
    assert_eq!(none.began(), 5.0);
}
