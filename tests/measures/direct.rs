//! Times, levels, interruptions, heat, uncertainty, pulses and wander on direct current.

use std::f64::consts::{SQRT_2, TAU};

use tipstrike::demo::Chance;
use tipstrike::flag::Flag;
use tipstrike::job::{Context, Logger, Measuring};
use tipstrike::recording::Recording;
use tipstrike::start::{Doubt, find};

use super::{RATE, near, only, plain, recording, recording_at, steady};

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
/// Leads that are swapped turn the sign of the power, not the heat. docs/measures.md: half of the run level near zero volts
/// for over 0.3 s before the arc makes a start doubtful, and flags of the recording stand at its starts.
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
    assert_eq!(start.flags, [Flag::Doubtful, Flag::Polarity]);
    assert!(
        matches!(&start.doubts[..], [Doubt::NoVoltage { amps, .. }] if (amps - 40.0).abs() < 0.1),
        "{:?}",
        start.doubts
    );
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

/// Mains hum of 0.2 V rms and its third harmonic of 0.15 V rms are 0.25 V rms together, and no wander.
#[test]
fn hum_is_told_apart_from_wander_and_current_wander_by_itself() {
    let hum = |t: f64| {
        SQRT_2 * (0.2 * (TAU * 50.0 * t + 0.4).sin() + 0.15 * (TAU * 150.0 * t + 1.1).sin())
    };
    let amps = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        // Of both ends of the band: 2.5 A rms together. What stays at one frequency over 45 Hz would be a rectifier's ripple
        // (docs/measures.md), so this one sweeps from 160 Hz to 190 Hz in the second of the window.
        level => {
            let swept = 160.0 * (t - 0.5) + 15.0 * (t - 0.5).powi(2);
            level + SQRT_2 * (2.0 * (TAU * 13.0 * t).sin() + 1.5 * (TAU * swept).sin())
        }
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
    assert_eq!(m.ripple_pct, None);
}

/// A line of 170 Hz, 1.5 A rms on 80 A: 5.3 % peak to peak of ripple, and no current wander beside the 2 A of 13 Hz.
#[test]
fn a_line_over_45_hz_is_ripple_and_no_wander() {
    let amps = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        level => level + SQRT_2 * (2.0 * (TAU * 13.0 * t).sin() + 1.5 * (TAU * 170.0 * t).sin()),
    };
    let start = only(recording(2.5, amps, |t| steady(t).1), &Context::default());
    let m = &start.measures;
    near(m.ripple_hz, 170.0, 0.2);
    near(m.ripple_pct, 100.0 * 2.0 * SQRT_2 * 1.5 / 80.0, 0.3);
    near(m.wander_a, 2.0, 0.05);
}

/// 0.5 V of 25 Hz in the last fifth of the window lie in the last of three segments, in the last 40 % of it, where sin⁴ has a
/// quarter of its integral: 0.5²/2 · 1/4 · 1/3 V².
#[test]
fn wander_at_the_windows_end_is_measured() {
    let volts = |t: f64| match steady(t).1 {
        volts if (1.3..1.5).contains(&t) => volts + 0.5 * (TAU * 25.0 * t).sin(),
        volts => volts,
    };
    let start = only(recording(2.5, |t| steady(t).0, volts), &Context::default());
    near(start.measures.wander_v, 0.102, 0.01);
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
    // A ramp of 0.1 s where 0.8 s are stated: from a tenth of these on the current stands at its level, so the up-slope began with
    // that (docs/measures.md) and is level itself: settled at 72 A = 20 + 600·t.
    let fast = |t: f64| match steady(t).0 {
        0.0 => 0.0,
        level => level - 60.0 * (1.0 - (t - 0.5) / 0.1).max(0.0),
    };
    let slow = Context {
        upslope_s: Some(0.8),
        ..Context::default()
    };
    let start = only(recording(2.5, fast, |t| steady(t).1), &slow);
    near(start.measures.settle_ms, 86.7, 0.5);
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
    near(seen(800.0, 0.6).measures.wander_hz, 140.0, 0.0);
    // Under 4000 samples a second the recording itself is slow (docs/recordings.md), so the band's own flag shows over that.
    let slow_for = |to_hz: f64| {
        let measuring = Measuring {
            wander_to_hz: to_hz,
            ..Measuring::default()
        };
        let made = recording_at(5000.0, 2.5, ramped, |t| steady(t).1);
        let starts = find(&made, &measuring, &Context::default()).unwrap();
        starts[0].flags.contains(&Flag::SlowRate)
    };
    assert_eq!([1250.0, 1251.0].map(slow_for), [false, true]);
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

/// Noise of 1 A has √(2·1/20000·198) = 0.14 A in the band, which is taken off a tone of 0.2 A.
#[test]
fn current_noise_is_taken_off_current_wander() {
    let mut chance = Chance::new(9, 0);
    let amps = (0..(2.5 * RATE) as usize).map(|k| {
        let t = k as f64 / RATE;
        let tone = 0.2 * SQRT_2 * (TAU * 13.0 * t).sin();
        match steady(t).0 {
            0.0 => 0.0,
            level => level + tone + chance.normals().0,
        }
    });
    let volts = (0..(2.5 * RATE) as usize).map(|k| steady(k as f64 / RATE).1);
    let made = Recording::from_samples("made", RATE, amps.collect(), volts.collect());
    let start = only(made, &Context::default());
    near(start.measures.wander_a, 0.2, 0.025);
}
