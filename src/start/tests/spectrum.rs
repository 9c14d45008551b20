//! Spectral density, band rms and line removal against closed forms and SciPy.

use crate::start::spectrum::{take_out_lines, welch};

/// Source: constructed and analytic: 0.30 V at 2 Hz and 0.80 V at 50 Hz (amplitudes) give 0.212132 and 0.565685 V rms.
#[test]
fn band_rms_of_sinusoids_is_their_amplitude_over_root_two() {
    let rate = 1000.0;
    let tone = |f: f64, a: f64, k: usize| a * (std::f64::consts::TAU * f * k as f64 / rate).sin();
    let wave: Vec<f64> = (0..8000)
        .map(|k| 12.0 + tone(2.0, 0.30, k) + tone(50.0, 0.80, k))
        .collect();
    let density = welch(&wave, rate, 4000);
    let (slow, at) = density.band(0.5, 10.0).unwrap();
    assert!((slow - 0.212132).abs() < 1e-5, "{slow}");
    assert!((at - 2.0).abs() < 0.3);
    let (fast, _) = density.band(10.0, 400.0).unwrap();
    assert!((fast - 0.565685).abs() < 1e-5, "{fast}");
    let (both, _) = density.band(0.5, 400.0).unwrap();
    assert!((both - 0.604152).abs() < 1e-5, "{both}");
}

#[test]
fn a_line_is_taken_out_and_its_rms_told() {
    let rate = 4000.0;
    let mut wave: Vec<f64> = (0..4000)
        .map(|k| 0.5 * (std::f64::consts::TAU * 50.0 * f64::from(k) / rate + 0.7).sin())
        .collect();
    let rms = take_out_lines(&mut wave, rate, [50.0]);
    assert!((rms - 0.5 / std::f64::consts::SQRT_2).abs() < 1e-9);
    assert!(wave.iter().all(|x| x.abs() < 1e-9));
}
