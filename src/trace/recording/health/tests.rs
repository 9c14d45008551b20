//! Load line, hum and noise floor against the standard, closed forms and SciPy.

use crate::flag::Flag;
use crate::recording::health::arc::load_line;
use crate::recording::health::idle::hum_rms;
use crate::recording::{Recording, Seen};

#[test]
fn the_load_line_is_that_of_the_standard() {
    // IEC 60974-1: 10 V + 0.04 V/A; values of the table in welding handbooks.
    for (amps, volts) in [
        (5.0, 10.2),
        (50.0, 12.0),
        (80.0, 13.2),
        (150.0, 16.0),
        (200.0, 18.0),
        (600.0, 34.0),
    ] {
        assert!((load_line(amps) - volts).abs() < 1e-12, "{amps}");
    }
}

#[test]
fn hum_is_measured_as_the_rms_put_in() {
    let rate = 20_000.0;
    let wave = |k: usize| {
        let t = 2.0 * std::f64::consts::PI * 50.0 * k as f64 / rate;
        3.0 + 2.0 * t.sin() + 0.5 * (3.0 * t).cos()
    };
    let values: Vec<f64> = (0..10_123).map(wave).collect();
    // Rms of sines (identity): √(2²/2 + 0.5²/2).
    let expected = (2.0_f64 + 0.125).sqrt();
    assert!((hum_rms(&values, rate, 50.0).unwrap() / expected - 1.0).abs() < 1e-9);
}

const RATE: f64 = 20_000.0;
const FRAMES: usize = 16_384;

/// White noise of 0.2 A rms about 0.3 A, as tests/reference/health.py makes it.
fn noise() -> Vec<f64> {
    let mut state = 1_u32;
    let mut even = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state) / 2_f64.powi(32)
    };
    let mut value = || 0.3 + 0.2 * ((0..12).map(|_| even()).sum::<f64>() - 6.0);
    (0..FRAMES).map(|_| value()).collect()
}

fn with_hum(hz: f64) -> Vec<f64> {
    let tone = |k: usize, harmonic: f64, phase: f64| {
        (std::f64::consts::TAU * hz * harmonic * k as f64 / RATE + phase).sin()
    };
    let hum = |k: usize| {
        0.5 * tone(k, 1.0, 0.3)
            + 0.1 * tone(k, 2.0, 1.1)
            + 0.25 * tone(k, 3.0, 2.2)
            + 0.3 * tone(k, 7.0, 0.0)
    };
    noise()
        .iter()
        .enumerate()
        .map(|(k, x)| x + hum(k))
        .collect()
}

/// The trace at rest, and an arc behind it, so that the rest is seen to be one.
fn recorded(rest: Vec<f64>) -> Recording {
    let trace = [rest, vec![100.0; FRAMES]].concat();
    Recording::from_samples("made", RATE, trace, Vec::new())
}

/// Values of tests/reference/health.json: SciPy 1.17.1 and NumPy 2.4.6.
fn reference(name: &str) -> f64 {
    let all: serde_json::Value =
        serde_json::from_str(include_str!("../../../../tests/reference/health.json")).unwrap();
    all[name].as_f64().unwrap()
}

#[test]
fn hum_is_that_of_scipy_and_told_with_its_frequency() {
    for (hz, name) in [(50.0, "hum_50"), (60.0, "hum_60")] {
        let trace = with_hum(hz);
        let rms = hum_rms(&trace, RATE, hz).unwrap();
        assert!((rms / reference(name) - 1.0).abs() < 1e-6, "{hz} Hz: {rms}");
        let recording = recorded(trace);
        let finding = recording
            .survey()
            .findings
            .iter()
            .find(|f| f.flag == Flag::Hum);
        let expected = format!("{:.2} A rms of {hz:.0} Hz", reference(name));
        assert!(
            finding.is_some_and(|f| f.seen.to_string().starts_with(&expected)),
            "{finding:?}"
        );
    }
}

#[test]
fn the_noise_floor_is_that_of_scipy() {
    let recording = recorded(noise());
    let noise = recording.survey().noise_a.unwrap();
    // 1.4826 stands for 1.482602…: 1.5 parts in a million.
    assert!((noise / reference("noise") - 1.0).abs() < 5e-6, "{noise}");
    // Of 16,384 values the median deviation gives the rms to a percent or so.
    assert!(
        (noise / reference("noise_sd") - 1.0).abs() < 0.03,
        "{noise}"
    );
}

/// The corner that is told of 6 s at 20 kHz of a current given by the seconds, which comes back every 2 s.
fn corner(amps: impl Fn(f64) -> f64) -> Option<f64> {
    let trace = (0..120_000).map(|k| amps(f64::from(k) / 20e3 % 2.0));
    let recording = Recording::from_samples("made", 20e3, trace.collect(), Vec::new());
    let findings = &recording.survey().findings;
    findings.iter().find_map(|f| match f.seen {
        Seen::Coupled { corner_hz, .. } | Seen::Sagging { corner_hz, .. } => Some(corner_hz),
        _ => None,
    })
}

/// An arc that rectifies whole: half-waves of 140 A, of which a cell of the survey holds now more, now less.
#[test]
fn half_waves_that_fall_now_and_then_into_a_cell_do_not_sag() {
    for hz in [47.0, 64.5, 78.0, 91.7, 130.0] {
        let wave = |t: f64| 140.0 * (std::f64::consts::TAU * hz * t).sin().max(0.0);
        let told = corner(|t| if t < 0.8 { 0.0 } else { wave(t - 0.8) });
        assert_eq!(told, None, "{hz} Hz");
    }
}

/// The step response of a first-order high-pass in closed form, at a strike and where the arc goes out, on a zero that is 0.4 A off
/// there.
#[test]
fn decays_to_a_zero_that_is_a_little_off_tell_a_high_pass() {
    for hz in [9.0, 14.5, 19.0] {
        let left = |t: f64| (-std::f64::consts::TAU * hz * t).exp();
        let told = corner(|t| match t {
            ..0.6 => 0.0,
            0.6..1.4 => 0.4 + 150.0 * left(t - 0.6),
            _ => 0.4 - 150.0 * left(t - 1.4),
        });
        let off = told.map(|told| (told / hz - 1.0).abs());
        assert!(off.is_some_and(|off| off < 0.1), "{told:?} at {hz} Hz");
    }
}
