//! Measures of made starts against closed forms of the current and the voltage that were made.

use std::f64::consts::{SQRT_2, TAU};

use tipstrike::demo::Chance;
use tipstrike::flag::Flag;
use tipstrike::recording::{Logger, Recording};
use tipstrike::start::{Context, Levels, Measuring, Skew, Start, find, skew};

const RATE: f64 = 20_000.0;

/// Amps and volts as functions of seconds.
fn recording(seconds: f64, amps: impl Fn(f64) -> f64, volts: impl Fn(f64) -> f64) -> Recording {
    recording_at(RATE, seconds, amps, volts)
}

fn recording_at(
    rate_hz: f64,
    seconds: f64,
    amps: impl Fn(f64) -> f64,
    volts: impl Fn(f64) -> f64,
) -> Recording {
    let at = |f: &dyn Fn(f64) -> f64| {
        let samples = 0..(seconds * rate_hz) as usize;
        samples.map(|k| f(k as f64 / rate_hz)).collect()
    };
    Recording::from_samples("made", rate_hz, at(&amps), at(&volts))
}

fn near(seen: Option<f64>, expected: f64, within: f64) {
    let seen = seen.expect("measured");
    assert!(
        (seen - expected).abs() <= within,
        "{seen} is not {expected} ± {within}"
    );
}

/// The only start of a made recording.
fn only(recording: Recording, context: &Context) -> Start {
    let mut found = find(&recording, &Measuring::default(), context).unwrap();
    assert_eq!(found.len(), 1);
    found.remove(0)
}

/// 80 A from 0.5 s, first order with 2 ms, out at 1.9 s; circuit open from 0.4 s; arc voltage 10 V + 0.02 V/A.
fn plain(t: f64) -> (f64, f64) {
    match t {
        t if (0.5..1.9).contains(&t) => {
            let amps = 80.0 * (1.0 - (-(t - 0.5) / 0.002).exp());
            (amps, 10.0 + 0.02 * amps)
        }
        t if (0.4..0.5).contains(&t) => (0.0, 70.0),
        _ => (0.0, 0.0),
    }
}

/// A steady arc of 80 A and 12 V from 0.5 s to 1.9 s.
fn steady(t: f64) -> (f64, f64) {
    if (0.5..1.9).contains(&t) {
        (80.0, 12.0)
    } else {
        (0.0, 0.0)
    }
}

#[test]
fn times_and_levels_of_a_first_order_current_are_those_of_its_closed_form() {
    let made = recording(2.5, |t| plain(t).0, |t| plain(t).1);
    let m = only(made, &Context::default()).measures;
    // Into ±10 % after 2.302585 time constants of 2 ms; lit at 1 A of 80 A, 25 µs after 0.5 s.
    near(m.settle_ms, 4.6052 - 0.0253, 0.001);
    near(m.stutter_ms, 0.0, 0.0);
    near(m.start_ms, 104.605, 0.05);
    // Mean of 80·(1 − exp(−t/2 ms)) from 25 µs on for 20 ms.
    near(m.lit_a, 80.0 * (1.0 - 0.1 * (-0.0126_f64).exp()), 0.01);
    // JCGM 100: two instants, each rectangular over a sample interval of 0.05 ms, k = 2.
    near(
        m.u_start_ms,
        2.0 * (2.0 * 0.05_f64.powi(2) / 12.0).sqrt(),
        1e-9,
    );
}

#[test]
fn energy_and_charge_are_integrals_over_what_conducted_until_it_settled() {
    // An attempt of 10 ms at 40 A and 12 V, then the plain start at 0.6 s.
    let at = |t: f64| match t {
        t if (0.5..0.51).contains(&t) => (40.0, 12.0),
        t if (0.51..0.6).contains(&t) => (0.0, 0.0),
        t => plain(t - 0.1),
    };
    let made = recording(2.5, |t| at(t).0, |t| at(t).1);
    let start = only(made, &Context::default());
    let m = &start.measures;
    near(m.attempts, 2.0, 0.0);
    near(m.stutter_ms, 100.075, 0.01);
    // ∫i = Aτ(x − (1 − e⁻ˣ)), ∫i² = A²τ(x − 2(1 − e⁻ˣ) + (1 − e⁻²ˣ)/2) over x = ln 10 time constants.
    let (tau, x) = (0.002, std::f64::consts::LN_10);
    let charge = 80.0 * tau * (x - 0.9);
    let squares = 80.0 * 80.0 * tau * (x - 1.8 + 0.495);
    near(m.charge_c, 0.4 + charge, 1e-4);
    near(m.energy_j, 4.8 + 10.0 * charge + 0.02 * squares, 1e-3);
    assert_eq!(start.flags, [Flag::Retry]);
}

/// The energy of a long touch is summed piece by piece; one ampere in forty is no rise, and is settled where it is lit.
/// Leads that are swapped turn the sign of the power, not the heat.
#[test]
fn a_long_touch_is_stutter_and_its_heat_is_counted() {
    let at = |t: f64| match t {
        t if (0.5..4.5).contains(&t) => (-40.0, 1.0),
        t if (4.5..6.5).contains(&t) => (-41.0, 12.0),
        _ => (0.0, 0.0),
    };
    let start = only(
        recording(7.0, |t| at(t).0, |t| at(t).1),
        &Context::default(),
    );
    let m = &start.measures;
    near(m.stutter_ms, 4000.0, 0.1);
    near(m.settle_ms, 0.0, 0.05);
    near(m.charge_c, 160.0, 0.005);
    near(m.energy_j, 160.0, 0.02);
    near(m.lit_a, 41.0, 0.01);
    // From 1 V to 12 V between two samples: 5 V after 4/11 of their interval.
    near(
        start.instants.t_lit_s,
        4.5 + (4.0 / 11.0 - 1.0) / RATE,
        1e-8,
    );
    near(m.attempts, 1.0, 0.0);
    assert_eq!((m.rise_ms, m.overshoot_pct), (None, None));
    assert!(start.flags.is_empty(), "{:?}", start.flags);
}

/// Gaps of 2 ms and 5 ms are dropouts, one of 0.3 ms is none; 3 ms under the short level is a touch, 0.3 ms is none.
#[test]
fn dropouts_and_touches_in_the_window_are_counted_with_their_time() {
    let gap = |t: f64| {
        [(0.8, 0.802), (1.0, 1.005), (1.2, 1.2003)]
            .iter()
            .any(|(on, off)| (*on..*off).contains(&t))
    };
    let low = |t: f64| (1.3..1.303).contains(&t) || (1.4..1.4003).contains(&t);
    let start = only(
        recording(
            2.5,
            |t| if gap(t) { 0.0 } else { steady(t).0 },
            |t| if low(t) { 2.0 } else { steady(t).1 },
        ),
        &Context::default(),
    );
    let m = &start.measures;
    near(m.dropouts, 2.0, 0.0);
    // On straight lines between 80 A and 0 A, 40 and 100 dark samples are 39.02 and 99.02 intervals from 0.6 A to 1 A.
    near(m.dropout_ms, 138.04 * 0.05, 1e-3);
    near(m.dropout_longest_ms, 99.02 * 0.05, 1e-3);
    near(m.touches, 1.0, 0.0);
    assert!(start.flags.contains(&Flag::Dropout) && start.flags.contains(&Flag::Touch));
}

/// JCGM 100: the mean of n samples with white noise s has the standard uncertainty s/√n; k = 2.
#[test]
fn noise_alone_makes_the_uncertainty_of_the_levels() {
    let mut chance = Chance::new(7, 0);
    let mut noisy = |scale: f64, level: fn(f64) -> f64| -> Vec<f64> {
        (0..(2.5 * RATE) as usize)
            .map(|k| level(k as f64 / RATE) + scale * chance.normals().0)
            .collect()
    };
    let amps = noisy(0.5, |t| steady(t).0);
    let volts = noisy(0.1, |t| steady(t).1);
    let start = only(
        Recording::from_samples("made", RATE, amps, volts),
        &Context::default(),
    );
    let m = &start.measures;
    near(m.u_run_a, 2.0 * 0.5 / RATE.sqrt(), 3e-4);
    near(m.u_run_v, 2.0 * 0.1 / RATE.sqrt(), 6e-5);
    near(m.u_wander_v, 0.0, 0.0);
    // White noise is no wander: its share of the band is taken off.
    near(m.wander_v, 0.0, 0.01);
    near(m.wander_a, 0.0, 0.05);
}

/// JCGM 100:2008, 4.3.7: a tolerance is the half-width of a rectangle, so over √3; k = 2. The share of the scale alone is that of
/// the wander.
#[test]
fn the_scales_tolerance_makes_the_uncertainty_of_levels_and_wander() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("scaled.csv");
    let rows = (0..2500).map(|k| {
        let t = f64::from(k) / 1000.0;
        let wander = 0.3 * SQRT_2 * (TAU * 13.0 * t).sin();
        let (amps, volts) = match steady(t) {
            (0.0, _) => (0.0, 0.0),
            (amps, volts) => (amps, volts + wander),
        };
        format!("{t:.3},{amps:.6},{volts:.6}\n")
    });
    let rows: String = rows.collect();
    std::fs::write(&path, format!("time_s,current_a,voltage_v\n{rows}")).unwrap();
    let text = "current = { column = \"current_a\", tolerance_pct = 2.0 }\n\
                voltage = { column = \"voltage_v\", tolerance_pct = 3.0 }";
    let made = Recording::open(&path, &toml::from_str::<Logger>(text).unwrap()).unwrap();
    let m = only(made, &Context::default()).measures;
    let relative = |percent: f64| 2.0 * 0.01 * percent / 3.0_f64.sqrt();
    near(m.u_run_a, relative(2.0) * 80.0, 1e-3);
    near(m.u_run_v, relative(3.0) * 12.0, 1e-2);
    near(m.u_wander_v, relative(3.0) * m.wander_v.unwrap(), 1e-4);
}

/// A current of 90 Hz, 65 % of the time at +150 A (electrode negative), else at −100 A, 14 V; `missed` tells in which
/// cycles the half-cycle of that sign stays dark.
fn alternating(sign: f64, missed: impl Fn(usize) -> bool + Copy) -> Start {
    let wave = move |t: f64| {
        let phase = (t - 0.5) * 90.0;
        let amps = if phase.fract() < 0.65 { 150.0 } else { -100.0 };
        let dark = missed(phase as usize) && amps * sign > 0.0;
        if dark || !(0.5..2.0).contains(&t) {
            0.0
        } else {
            amps
        }
    };
    let volts = move |t: f64| {
        if wave(t) == 0.0 {
            0.0
        } else {
            14.0 * wave(t).signum()
        }
    };
    only(recording(2.5, wave, volts), &Context::default())
}

/// The window holds 90 cycles: over 5 % of one polarity missed is more than four.
#[test]
fn an_arc_that_misses_more_than_one_half_cycle_in_twenty_of_one_polarity_rectifies() {
    for sign in [-1.0, 1.0] {
        let four = alternating(sign, |cycle| cycle % 20 == 19);
        near(four.measures.missed_halfcycles, 4.0, 0.0);
        assert!(!four.flags.contains(&Flag::Rectifying), "{sign}");
        let five = alternating(sign, |cycle| cycle % 15 == 14);
        near(five.measures.missed_halfcycles, 5.0, 0.0);
        assert!(five.flags.contains(&Flag::Rectifying), "{sign}");
        near(five.measures.dropouts, 0.0, 0.0);
        near(five.measures.ac_hz, 90.0, 0.05);
    }
}

#[test]
fn on_alternating_current_the_start_time_is_sure_to_half_a_cycle() {
    let start = alternating(1.0, |_| false);
    // JCGM 100: one instant in a sample interval, the other in a half-cycle of 1/180 s, both rectangular, k = 2.
    let step_ms = 1e3 / RATE;
    let expected = 2.0 * ((step_ms.powi(2) + (1e3 / 180.0_f64).powi(2)) / 12.0).sqrt();
    near(start.measures.u_start_ms, expected, 0.01);
}

/// Under 16 samples a cycle nothing is told of AC.
#[test]
fn alternating_current_of_few_samples_a_cycle_is_not_measured() {
    let cycles_of = |samples: f64| {
        let at = |k: usize| ((k as f64 + 0.5) / samples).fract();
        let amps: Vec<f64> = (0..3000)
            .map(|k| match k {
                500..2500 if at(k) < 0.5 => 100.0,
                500..2500 => -100.0,
                _ => 0.0,
            })
            .collect();
        let volts = amps.iter().map(|i| 0.14 * i).collect();
        only(
            Recording::from_samples("made", 1000.0, amps, volts),
            &Context::default(),
        )
    };
    let few = cycles_of(12.0);
    let m = &few.measures;
    assert_eq!((m.ac_hz, m.en_share_pct, m.wander_v), (None, None, None));
    assert!(few.flags.contains(&Flag::SlowRate));
    near(cycles_of(16.0).measures.ac_hz, 62.5, 1e-9);
}

/// Mains hum of 0.2 V rms and its third harmonic of 0.15 V rms are 0.25 V rms together, and no wander.
#[test]
fn hum_is_told_apart_from_wander_and_current_wander_by_itself() {
    let hum = |t: f64| {
        SQRT_2 * (0.2 * (TAU * 50.0 * t + 0.4).sin() + 0.15 * (TAU * 150.0 * t + 1.1).sin())
    };
    let amps = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        // Of both ends of the band: 2.5 A rms together.
        level => level + SQRT_2 * (2.0 * (TAU * 13.0 * t).sin() + 1.5 * (TAU * 170.0 * t).sin()),
    };
    let volts = |t: f64| match amps(t) {
        0.0 => 0.0,
        amps => 9.0 + 0.05 * amps + hum(t),
    };
    let start = only(recording(2.5, amps, volts), &Context::default());
    let m = &start.measures;
    near(m.hum_v, 0.25, 0.005);
    near(m.wander_v, 0.0, 0.01);
    near(m.wander_a, 2.5, 0.05);
}

/// 100 A for 40 % of the time and 60 A between: 76 A in the mean.
#[test]
fn a_pulsed_current_is_measured_by_its_mean_over_a_period() {
    let amps = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        _ if ((t - 0.5) * 10.0).fract() < 0.4 => 100.0,
        _ => 60.0,
    };
    let start = only(recording(2.5, amps, |t| steady(t).1), &Context::default());
    let m = &start.measures;
    near(m.pulse_hz, 10.0, 0.01);
    near(m.run_a, 76.0, 0.2);
    near(m.settle_ms, 0.0, 5.0);
}

/// From 20 A to 80 A in half a second: with the up-slope known it is settled at once, without it at 72 A, after 0.4333 s.
#[test]
fn an_up_slope_of_the_run_sheet_is_the_level_that_settles() {
    let amps = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        level => level - 60.0 * (1.0 - (t - 0.5) / 0.5).max(0.0),
    };
    let made = || recording(2.5, amps, |t| steady(t).1);
    let sloped = Context {
        upslope_s: Some(0.5),
        ..Context::default()
    };
    let known = only(made(), &sloped).measures;
    near(known.settle_ms, 0.0, 0.1);
    near(known.run_a, 80.0, 0.05);
    let unknown = only(made(), &Context::default()).measures;
    near(unknown.settle_ms, 433.3, 0.2);
    // An up-slope of no length is none.
    let none = Context {
        upslope_s: Some(0.0),
        ..Context::default()
    };
    assert_eq!(only(made(), &none).measures, unknown);
    // The ramp of 0.1 s leaves an up-slope of 0.8 s at once, and is settled when that comes within 10 % of it:
    // 80 = 1.1·(20 + 75·t).
    let fast = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        level => level - 60.0 * (1.0 - (t - 0.5) / 0.1).max(0.0),
    };
    let slow = Context {
        upslope_s: Some(0.8),
        ..Context::default()
    };
    let start = only(recording(2.5, fast, |t| steady(t).1), &slow);
    near(start.measures.settle_ms, 703.0, 0.5);
}

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

#[test]
fn a_picture_goes_from_the_circuit_opening_to_the_end_of_the_window() {
    let pictures = Context {
        pictures: true,
        ..Context::default()
    };
    let start = only(recording(2.5, |t| plain(t).0, |t| plain(t).1), &pictures);
    let picture = start.picture.unwrap();
    // 30 ms about 0.4 s to 1.5 s: 23 202 samples or so, in columns of four.
    near(Some(picture.from_s), 0.37, 1e-4);
    near(Some(picture.step_s), 4.0 / RATE, 1e-12);
    near(Some(picture.amps.len() as f64), 5800.0, 1.0);
    assert_eq!(picture.volts.len(), picture.amps.len());
    let highest = |columns: &[[f32; 2]]| columns.iter().map(|c| c[1]).fold(0.0, f32::max);
    assert_eq!(highest(&picture.volts), 70.0);
    near(Some(f64::from(highest(&picture.amps))), 80.0, 1e-3);
    assert!(picture.amps.iter().all(|[low, high]| low <= high));
    // Blocks of 5 samples over 0.995 s are 3980 points: every eighth is kept.
    near(Some(picture.cloud.len() as f64), 498.0, 1.0);
    assert!(picture.cloud.iter().all(|p| p[0] > 71.0 && p[1] > 11.0));
    // Half a second resolves 2 Hz: bins from 0 to twice 200 Hz.
    assert_eq!(picture.spectrum.len(), 201);
    assert_eq!(picture.spectrum[200][0], 400.0);
    assert_eq!(picture.wander_band_hz, (2.0, 200.0));
}

#[test]
fn a_picture_of_a_start_that_did_not_light_shows_where_the_circuit_opened() {
    let pictures = Context {
        pictures: true,
        ..Context::default()
    };
    let open = |t: f64| if (0.5..1.0).contains(&t) { 70.0 } else { 0.0 };
    let picture = only(recording(2.0, |_| 0.0, open), &pictures)
        .picture
        .unwrap();
    near(Some(picture.from_s), 0.47, 1e-4);
    assert_eq!(picture.step_s, 1.0 / RATE);
    assert!(picture.volts.contains(&[0.0, 0.0]) && picture.volts.contains(&[70.0, 70.0]));
}

/// However long the tungsten touches, a picture begins 2 s before the arc, or goes on for 2 s where none came: 30 ms about it.
#[test]
fn a_picture_of_a_long_touch_shows_two_seconds_of_it() {
    let pictures = Context {
        pictures: true,
        ..Context::default()
    };
    let touch = |lit: bool| {
        let at = move |t: f64| match t {
            t if (0.5..4.5).contains(&t) => (40.0, 1.0),
            t if lit && (4.5..6.5).contains(&t) => (41.0, 12.0),
            _ => (0.0, 0.0),
        };
        let made = recording(7.0, |t| at(t).0, |t| at(t).1);
        only(made, &pictures).picture.unwrap()
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
        pictures: true,
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
        .map(|s| s.picture.as_ref().unwrap().from_s)
        .collect();
    near(Some(from[0]), 0.37, 1e-3);
    near(Some(from[1]), 1.17, 1e-3);
    assert!(found.iter().all(Start::lit));
}

/// An arc that goes out for 10 ms every 100 ms does not pulse, and a pulse does at any rate.
#[test]
fn dropouts_at_even_times_are_no_pulse() {
    let out = |t: f64| steady(t).0 > 0.0 && ((t - 0.5) * 10.0).fract() > 0.9;
    let amps = |t: f64| if out(t) { 0.0 } else { steady(t).0 };
    let volts = |t: f64| if out(t) { 60.0 } else { steady(t).1 };
    let start = only(recording(2.5, amps, volts), &Context::default());
    near(start.measures.dropouts, 10.0, 0.0);
    assert_eq!(start.measures.pulse_hz, None);
    for rate_hz in [44_100.0, 5000.0] {
        let pulsed = |t: f64| match steady(t).0 {
            0.0 => 0.0,
            _ if ((t - 0.5) * 25.0).fract() < 0.4 => 100.0,
            _ => 60.0,
        };
        let made = recording_at(rate_hz, 2.5, pulsed, |t| steady(t).1);
        near(
            only(made, &Context::default()).measures.pulse_hz,
            25.0,
            0.02,
        );
        // With the arc out for 10 ms at the window's end it still does.
        let out = |t: f64| (1.46..1.47).contains(&t);
        let once = |t: f64| if out(t) { 0.0 } else { pulsed(t) };
        let made = recording_at(
            rate_hz,
            2.5,
            once,
            |t| if out(t) { 60.0 } else { steady(t).1 },
        );
        near(only(made, &Context::default()).measures.pulse_hz, 25.0, 0.1);
    }
}

/// At 500 samples a second wander ends at a quarter of the rate, 125 Hz, which is told; a band up to it is not short of anything.
#[test]
fn at_a_slow_rate_the_wander_band_ends_at_a_quarter_of_it() {
    let ramped = |t: f64| match t {
        t if (0.5..0.6).contains(&t) => 800.0 * (t - 0.5),
        t => steady(t).0,
    };
    let seen = |rate_hz: f64, fast_v: f64| {
        let tone = |t: f64, volts: f64, hz: f64| volts * SQRT_2 * (TAU * hz * t).sin();
        let volts = |t: f64| match steady(t).1 {
            0.0 => 0.0,
            arc => arc + tone(t, 0.3, 40.0) + tone(t, fast_v, 140.0),
        };
        only(
            recording_at(rate_hz, 2.5, ramped, volts),
            &Context::default(),
        )
    };
    let slow = seen(500.0, 0.0);
    near(slow.measures.wander_v, 0.3, 0.02);
    assert!(slow.flags.contains(&Flag::SlowRate));
    near(seen(500.0, 0.6).measures.wander_hz, 40.0, 0.0);
    let fast = seen(800.0, 0.6);
    near(fast.measures.wander_hz, 140.0, 0.0);
    assert!(!fast.flags.contains(&Flag::SlowRate));
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

/// A ramp of 10 ms to 80 A (8 ms from 10 % to 90 %), then 100 A for 10 samples. Over an eighth of the rise, 20 samples, that
/// is 90 A at the most; what comes after three rise times is no overshoot.
#[test]
fn overshoot_is_that_of_the_mean_over_an_eighth_of_the_rise_and_within_three_rises() {
    let amps = |t: f64| match t - 0.5 {
        after if after < 0.0 || t >= 1.9 => 0.0,
        after if after < 0.01 => 8000.0 * after,
        after if after < 0.01049 => 100.0,
        after if (0.1..0.11).contains(&after) => 120.0,
        _ => 80.0,
    };
    let start = only(recording(2.5, amps, |t| steady(t).1), &Context::default());
    near(start.measures.rise_ms, 8.0, 0.02);
    near(start.measures.overshoot_pct, 12.5, 0.2);
}

#[test]
fn a_current_ramp_is_no_current_wander() {
    let amps = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        level => level + 4.0 * (t - 0.5),
    };
    let start = only(recording(2.5, amps, |t| steady(t).1), &Context::default());
    near(start.measures.wander_a, 0.0, 1e-6);
}

/// Noise of 2 A has √(2·4/20000·198) = 0.28 A in the band, which is taken off a tone of 0.4 A.
#[test]
fn current_noise_is_taken_off_current_wander() {
    let mut chance = Chance::new(9, 0);
    let amps = (0..(2.5 * RATE) as usize).map(|k| {
        let t = k as f64 / RATE;
        let tone = 0.4 * SQRT_2 * (TAU * 13.0 * t).sin();
        match steady(t).0 {
            0.0 => 0.0,
            level => level + tone + 2.0 * chance.normals().0,
        }
    });
    let volts = (0..(2.5 * RATE) as usize).map(|k| steady(k as f64 / RATE).1);
    let made = Recording::from_samples("made", RATE, amps.collect(), volts.collect());
    let start = only(made, &Context::default());
    near(start.measures.wander_a, 0.4, 0.05);
}

/// The square current of 90 Hz with volts of both polarities, to which `more` is added in the arc's own direction.
fn alternating_with(more: impl FnMut(f64) -> f64) -> Start {
    let amps = |t: f64| -> f64 {
        match ((t - 0.5) * 90.0).fract() {
            _ if !(0.5..2.0).contains(&t) => 0.0,
            phase if phase < 0.65 => 150.0,
            _ => -100.0,
        }
    };
    let times = || (0..(2.5 * RATE) as usize).map(|k| k as f64 / RATE);
    let mut more = more;
    let volts = times().map(|t| match amps(t) {
        0.0 => 0.0,
        i => i.signum() * (14.0 + more(t)),
    });
    let volts = volts.collect();
    let made = Recording::from_samples("made", RATE, times().map(amps).collect(), volts);
    only(made, &Context::default())
}

/// The band of alternating current ends at a third of its frequency; white noise in it is taken off.
#[test]
fn on_alternating_current_wander_is_told_up_to_a_third_of_the_frequency() {
    let tone = |hz: f64, t: f64| 0.3 * SQRT_2 * (TAU * hz * t).sin();
    let slow = alternating_with(|t| tone(8.0, t)).measures;
    near(slow.wander_v, 0.3, 0.02);
    near(slow.wander_hz, 8.0, 1.1);
    near(
        alternating_with(|t| tone(40.0, t)).measures.wander_v,
        0.0,
        0.02,
    );
    let mut chance = Chance::new(10, 0);
    let noisy = alternating_with(|t| tone(8.0, t) + 0.5 * chance.normals().0);
    near(noisy.measures.wander_v, 0.3, 0.03);
    // The current is as steady as its whole cycles are.
    near(slow.wander_a, 0.0, 0.2);
}

/// The window is over at 1.5 s: half-waves after it do not count.
#[test]
fn what_follows_the_window_of_alternating_current_is_no_wander() {
    let after = |t: f64| {
        if t > 1.52 {
            3.0 * (TAU * 9.0 * t).sin()
        } else {
            0.0
        }
    };
    near(alternating_with(after).measures.wander_v, 0.0, 0.01);
    let inside = alternating_with(|t| after(t + 0.42)).measures;
    near(inside.wander_v, 1.0, 0.9);
}

/// At 90 Hz one and a half half-cycles are 8.3 ms: 10 ms without current are a dropout, 7 ms none, and a sample or two about
/// zero in the midst of a half-cycle are neither a dropout nor a half-cycle missed.
#[test]
fn on_alternating_current_a_dropout_lasts_one_and_a_half_half_cycles() {
    let dark = |from: f64, ms: f64| {
        let wave = move |t: f64| match ((t - 0.5) * 90.0).fract() {
            _ if !(0.5..2.0).contains(&t) || (from..from + 1e-3 * ms).contains(&t) => 0.0,
            phase if phase < 0.65 => 150.0,
            _ => -100.0,
        };
        let volts = move |t: f64| 0.14 * wave(t);
        only(recording(2.5, wave, volts), &Context::default()).measures
    };
    near(dark(0.95, 10.0).dropouts, 1.0, 0.0);
    near(dark(0.95, 7.0).dropouts, 0.0, 0.0);
    // 36.2 cycles after 0.5 s: within the half-cycle of 150 A.
    let glitch = dark(0.5 + 36.2 / 90.0, 0.1);
    near(glitch.dropouts, 0.0, 0.0);
    near(glitch.missed_halfcycles, 0.0, 0.0);
}

/// The opening half-cycle counts where it is longer than a quarter of a typical one.
#[test]
fn alternating_current_settles_with_its_first_half_cycle_that_is_long_enough() {
    let settle = |phase: f64| {
        let wave = move |t: f64| match ((t - 0.5) * 90.0 + phase).fract() {
            _ if !(0.5..2.0).contains(&t) => 0.0,
            phase if phase < 0.65 => 150.0,
            _ => -100.0,
        };
        let made = recording(2.5, wave, move |t| 0.14 * wave(t));
        only(made, &Context::default()).measures.settle_ms
    };
    near(settle(0.62), 1e3 * 0.03 / 90.0, 0.06);
    near(settle(0.30), 0.0, 0.06);
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

/// Three strikes: the voltage falls from 70 V at once, 80 A flow `late_s` after that.
fn struck(late_s: f64, open_v: f64) -> Option<Skew> {
    let on = |t: f64| (0.5..1.5).contains(&(t % 2.0));
    let volts = move |t: f64| match t {
        t if on(t) => 12.0,
        t if (0.4..0.5).contains(&(t % 2.0)) => open_v,
        _ => 0.0,
    };
    let amps = move |t: f64| {
        if t > late_s && on(t - late_s) {
            80.0
        } else {
            0.0
        }
    };
    let made = recording(6.0, amps, volts);
    let measuring = Measuring::default();
    let starts = find(&made, &measuring, &Context::default()).unwrap();
    skew(&made, &measuring, &starts).unwrap()
}

/// docs/measures.md: half a millisecond and two samples are allowed, a late current besides twice the sample it takes to rise.
#[test]
fn a_delay_between_the_channels_is_told_in_both_directions() {
    for late_s in [3e-3, -3e-3] {
        let found = struck(late_s, 70.0).unwrap();
        near(Some(found.current_late_s), late_s, 1e-6);
        let samples = if late_s > 0.0 { 4.0 } else { 2.0 };
        near(Some(found.allowed_s), 0.5e-3 + samples / RATE, 1e-9);
        assert_eq!(found.strikes, 3);
        assert!(found.finding().is_some());
    }
    let together = struck(0.0, 70.0).unwrap();
    near(Some(together.current_late_s), 0.0, 1e-6);
    assert_eq!(together.finding(), None);
    assert_eq!(struck(3e-3, 0.0), None, "no voltage that could fall");
}

/// Strikes less than 40 ms from either end of the recording do not count, and delays of more than 20 ms are not looked for.
#[test]
fn a_strike_counts_for_the_delay_where_it_stands_free() {
    let seen = |begin: f64, end: f64, late_s: f64| {
        let on = |t: f64| t >= begin;
        let volts = |t: f64| if on(t) { 12.0 } else { 70.0 };
        let amps = |t: f64| if on(t - late_s) { 80.0 } else { 0.0 };
        let made = recording(end, amps, volts);
        let measuring = Measuring::default();
        let starts = find(&made, &measuring, &Context::default()).unwrap();
        assert_eq!(starts.len(), 1);
        skew(&made, &measuring, &starts)
            .unwrap()
            .map(|s| (s.strikes, s.current_late_s))
    };
    let found = seen(0.1, 0.2, 0.019).unwrap();
    assert_eq!(found.0, 1);
    near(Some(found.1), 0.019, 1e-4);
    assert_eq!(seen(0.1, 0.2, 0.022), None);
    assert_eq!(seen(0.041, 0.2, 0.0).map(|s| s.0), Some(1));
    assert_eq!(seen(0.039, 0.2, 0.0), None);
    assert_eq!(seen(0.1, 0.142, 0.0).map(|s| s.0), Some(1));
    assert_eq!(seen(0.1, 0.138, 0.0), None);
}

/// An arc that stutters, half a millisecond on and half a millisecond off, begins once. After a gap of the recording time goes on.
#[test]
fn a_stuttering_strike_and_one_after_a_gap_count_for_the_delay() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("gap.csv");
    let begins = [1.0, 2.9];
    let rows = (0..72_000)
        .filter(|k| !(40_000..52_000).contains(k))
        .map(|k| {
            let t = f64::from(k) / 20_000.0;
            let after = begins
                .iter()
                .map(|begin| t - begin)
                .find(|after| (-0.1..0.6).contains(after));
            let (amps, volts) = match after {
                None => (0.0, 0.0),
                Some(after) if after < 0.0 => (0.0, 70.0),
                Some(after) if after < 0.06 && (after * 1000.0).fract() > 0.5 => (0.0, 12.0),
                Some(_) => (80.0, 12.0),
            };
            format!("{t:.5},{amps},{volts}\n")
        });
    let rows: String = rows.collect();
    std::fs::write(&path, format!("time_s,current_a,voltage_v\n{rows}")).unwrap();
    let made = Recording::open(&path, &Logger::default()).unwrap();
    let measuring = Measuring::default();
    let starts = find(&made, &measuring, &Context::default()).unwrap();
    let found = skew(&made, &measuring, &starts).unwrap().unwrap();
    assert_eq!(found.strikes, 2);
    near(Some(found.current_late_s), 0.0, 1e-4);
}

/// A late current that takes five samples from half the conduct level of 1 A to the whole may be late by ten of them besides.
#[test]
fn a_current_that_rises_slowly_may_come_late() {
    let on = |t: f64| (0.5..1.5).contains(&t);
    let volts = |t: f64| match t {
        t if on(t) => 12.0,
        t if t > 0.3 && t < 1.5 => 70.0,
        _ => 0.0,
    };
    let amps = |t: f64| match t - 0.503 {
        after if after >= 0.0 && on(t) => (0.1 * after * RATE + 0.05).min(80.0),
        _ => 0.0,
    };
    let made = recording(2.0, amps, volts);
    let measuring = Measuring::default();
    let starts = find(&made, &measuring, &Context::default()).unwrap();
    let found = skew(&made, &measuring, &starts).unwrap().unwrap();
    near(
        Some(found.allowed_s),
        0.5e-3 + (2.0 + 2.0 * 6.0) / RATE,
        1e-9,
    );
    assert!(found.finding().is_some());
}

/// By touch the voltage is gone before the machine answers: that the current waits is no fault, where most strikes are such.
#[test]
fn by_touch_the_current_may_wait() {
    let seen = |opened: usize| {
        let on = |t: f64| t < 12.0 && (0.5..1.5).contains(&(t % 2.0));
        // A voltage of 11 V stands before a touch, 70 V before a strike from the open circuit.
        let before = move |t: f64| {
            if ((t / 2.0) as usize) < opened {
                70.0
            } else {
                11.0
            }
        };
        let volts = move |t: f64| match t {
            t if on(t) => 2.0 + if t % 2.0 > 0.6 { 10.0 } else { 0.0 },
            t if (0.4..0.5).contains(&(t % 2.0)) => before(t),
            _ => 0.0,
        };
        let amps = move |t: f64| if t > 3e-3 && on(t - 3e-3) { 80.0 } else { 0.0 };
        let made = recording(12.0, amps, volts);
        let measuring = Measuring::default();
        let starts = find(&made, &measuring, &Context::default()).unwrap();
        assert_eq!(starts.len(), 6);
        skew(&made, &measuring, &starts)
            .unwrap()
            .unwrap()
            .finding()
            .is_some()
    };
    assert_eq!([0, 2, 3, 6].map(seen), [false, false, true, true]);
}
