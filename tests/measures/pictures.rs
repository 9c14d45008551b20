//! From where to where the traces of a figure go.

use tipstrike::job::{Context, Measuring};
use tipstrike::start::{Start, find};

use super::{RATE, near, only, plain, recording};

#[test]
fn a_picture_goes_from_the_circuit_opening_to_the_end_of_the_window() {
    let pictures = Context {
        previews: true,
        ..Context::default()
    };
    let start = only(recording(2.5, |t| plain(t).0, |t| plain(t).1), &pictures);
    let preview = start.preview.unwrap();
    // 30 ms about 0.4 s to 1.5 s: 23 202 samples or so, in columns of four.
    near(Some(preview.from_s), 0.37, 1e-4);
    near(Some(preview.step_s), 4.0 / RATE, 1e-12);
    near(Some(preview.amps.len() as f64), 5800.0, 1.0);
    assert_eq!(preview.volts.len(), preview.amps.len());
    let highest = |columns: &[[f32; 2]]| columns.iter().map(|c| c[1]).fold(0.0, f32::max);
    assert_eq!(highest(&preview.volts), 70.0);
    near(Some(f64::from(highest(&preview.amps))), 80.0, 1e-3);
    assert!(preview.amps.iter().all(|[low, high]| low <= high));
    // Blocks of 5 samples over 0.995 s are 3980 points: every eighth is kept.
    near(Some(preview.scatter.len() as f64), 498.0, 1.0);
    assert!(preview.scatter.iter().all(|p| p[0] > 71.0 && p[1] > 11.0));
    // Half a second resolves 2 Hz: bins from 0 to twice 200 Hz.
    assert_eq!(preview.spectrum.len(), 201);
    assert_eq!(preview.spectrum[200][0], 400.0);
    assert_eq!(preview.wander_band_hz, (2.0, 200.0));
}

#[test]
fn a_picture_of_a_start_that_did_not_light_shows_where_the_circuit_opened() {
    let pictures = Context {
        previews: true,
        ..Context::default()
    };
    let open = |t: f64| if (0.5..1.0).contains(&t) { 70.0 } else { 0.0 };
    let preview = only(recording(2.0, |_| 0.0, open), &pictures)
        .preview
        .unwrap();
    near(Some(preview.from_s), 0.47, 1e-4);
    assert_eq!(preview.step_s, 1.0 / RATE);
    assert!(preview.volts.contains(&[0.0, 0.0]) && preview.volts.contains(&[70.0, 70.0]));
}

/// However long the tungsten touches, a picture begins 2 s before the arc, or goes on for 2 s where none came: 30 ms about it.
#[test]
fn a_picture_of_a_long_touch_shows_two_seconds_of_it() {
    let pictures = Context {
        previews: true,
        ..Context::default()
    };
    let touch = |lit: bool| {
        let at = move |t: f64| match t {
            t if (0.5..4.5).contains(&t) => (40.0, 1.0),
            t if lit && (4.5..6.5).contains(&t) => (41.0, 12.0),
            _ => (0.0, 0.0),
        };
        let made = recording(7.0, |t| at(t).0, |t| at(t).1);
        only(made, &pictures).preview.unwrap()
    };
    let before = touch(true);
    near(Some(before.from_s), 4.5 - 2.03, 1e-3);
    let unlit = touch(false);
    near(Some(unlit.from_s), 0.5 - 0.03, 1e-3);
    near(Some(unlit.step_s * unlit.amps.len() as f64), 2.06, 1e-3);
}

/// The circuit that an arc left open shows in the picture of the next start, though it was not opened for it.
#[test]
fn a_picture_begins_where_the_arc_before_left_the_circuit_open() {
    let pictures = Context {
        previews: true,
        ..Context::default()
    };
    let arc = |t: f64| (0.5..1.2).contains(&t) || (1.6..2.8).contains(&t);
    let volts = |t: f64| match t {
        t if arc(t) => 12.0,
        t if (0.4..2.8).contains(&t) => 70.0,
        _ => 0.0,
    };
    let made = recording(3.2, |t| if arc(t) { 80.0 } else { 0.0 }, volts);
    let found = find(&made, &Measuring::default(), &pictures).unwrap();
    let from: Vec<f64> = found
        .iter()
        .map(|s| s.preview.as_ref().unwrap().from_s)
        .collect();
    near(Some(from[0]), 0.37, 1e-3);
    near(Some(from[1]), 1.17, 1e-3);
    assert!(found.iter().all(Start::lit));
}
