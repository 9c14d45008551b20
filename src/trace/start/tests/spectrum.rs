//! Spectral density, band rms and line removal against closed forms and SciPy.

use rustfft::num_complex::Complex;

use crate::start::measure::spectrum::{
    Density, cross_correlation, cross_density, peak, take_out_lines, welch,
};
use crate::start::measure::wander::{Even, Evidence, Lines, Slope, band_rms, drift, unexplained};

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

/// Values of tests/reference/start.json: SciPy 1.17.1 and NumPy 2.4.6, the same steps.
fn reference() -> serde_json::Value {
    serde_json::from_str(include_str!("../../../../tests/reference/start.json")).unwrap()
}

fn close(seen: f64, expected: &serde_json::Value, what: &str) {
    let expected = expected.as_f64().unwrap();
    assert!(
        (seen - expected).abs() <= 1e-6 * expected.abs(),
        "{what}: {seen} is not {expected}"
    );
}

const RATE: f64 = 4000.0;

/// The series of tests/reference/start.py.
fn series(k: usize) -> f64 {
    let tone = |f: f64, phase: f64| (std::f64::consts::TAU * f * k as f64 / RATE + phase).sin();
    0.2 * tone(7.3, 0.3) + 0.1 * tone(41.7, 1.1) + 0.05 * tone(133.1, 2.2) + 0.4 * tone(700.0, 0.0)
}

#[test]
fn welch_density_is_that_of_scipy() {
    let reference = reference();
    let wave: Vec<f64> = (0..3900).map(series).collect();
    let density = welch(&wave, RATE, 2000);
    let bins = reference["welch"]["bins"].as_array().unwrap();
    for (bin, power) in bins
        .iter()
        .zip(reference["welch"]["power"].as_array().unwrap())
    {
        close(
            density.power[bin.as_u64().unwrap() as usize],
            power,
            &format!("bin {bin}"),
        );
    }
    let (rms, strongest) = density.band(2.0, 200.0).unwrap();
    close(rms, &reference["welch"]["rms"], "band rms");
    close(strongest, &reference["welch"]["strongest_hz"], "strongest");
    let odd: Vec<f64> = (0..1501).map(series).collect();
    for (seen, power) in welch(&odd, RATE, 701)
        .power
        .iter()
        .zip(reference["welch_odd"]["power"].as_array().unwrap())
    {
        close(*seen, power, "odd segment");
    }
}

#[test]
fn cross_density_is_that_of_scipy() {
    let reference = reference();
    let wave: Vec<f64> = (0..3900).map(series).collect();
    // 13 samples later, and with something of its own: every part of every bin tells.
    let later: Vec<f64> = (0..3900)
        .map(|k| 0.7 * series(k.max(13) - 13) + 0.3 * (0.011 * k as f64 + 0.4).sin())
        .collect();
    let parts = |name: &str, segment: usize, bins: &[usize]| {
        let density = cross_density(&wave, &later, RATE, segment);
        let expected = reference[name].as_array().unwrap();
        assert_eq!(bins.len(), expected.len());
        for (bin, pair) in bins.iter().zip(expected) {
            let (re, im) = (pair[0].as_f64().unwrap(), pair[1].as_f64().unwrap());
            let off = (density[*bin].re - re).hypot(density[*bin].im - im);
            assert!(
                off <= 1e-6 * re.hypot(im),
                "{name}, bin {bin}: {}",
                density[*bin]
            );
        }
    };
    parts("cross", 2000, &[0, 1, 4, 20, 21, 66, 350]);
    parts("cross_short", 64, &[0, 1, 11, 31, 32]);
    parts("cross_odd", 701, &[0, 1, 2, 3, 4, 5]);
}

#[test]
fn wander_is_that_of_the_same_steps_in_scipy() {
    let reference = &reference()["wander"];
    let mut evidence = Evidence::default();
    for k in 0..3900 {
        let t = k as f64 / RATE;
        let tone = |f: f64| (std::f64::consts::TAU * f * k as f64 / RATE).sin();
        let amps = 80.0 + 6.0 * tone(1.7) + 0.5 * tone(11.0);
        let volts = 9.4 + 0.045 * amps + 1.2 * (-(t + 0.012) / 0.06).exp() + series(k);
        evidence.push(t + 0.012, volts, amps, false);
    }
    let rest = unexplained(&evidence, Slope::Whole).unwrap();
    for (k, expected) in [0, 100, 2000, 3899]
        .iter()
        .zip(reference["residual"].as_array().unwrap())
    {
        close(rest[*k], expected, "residual");
    }
    let lines = Lines {
        mains_hz: Some(50.0),
        repeats_hz: None,
    };
    let found = band_rms(
        Even {
            rate_hz: RATE,
            values: rest,
            noise: 0.0,
            missing: 0.0,
        },
        lines,
        2.0,
        200.0,
    )
    .unwrap();
    close(found.rms, &reference["rms"], "wander");
    close(found.hum_rms, &reference["hum_rms"], "hum");
    close(found.strongest_hz, &reference["strongest_hz"], "strongest");
}

#[test]
fn drift_is_the_theil_sen_slope_of_scipy() {
    let wave: Vec<f64> = (0..60)
        .map(f64::from)
        .map(|x| 0.02 * x + (x * 1.7).sin())
        .collect();
    close(
        drift(&wave, 1.0).unwrap(),
        &reference()["theil_sen"],
        "slope",
    );
}

#[test]
fn the_drift_of_a_long_line_is_its_slope() {
    let line: Vec<f64> = (0..1000).map(|k| 0.25 * f64::from(k) / 500.0).collect();
    let seen = drift(&line, 500.0).unwrap();
    assert!((seen - 0.25).abs() < 1e-9, "{seen}");
    assert_eq!(drift(&line[..1], 500.0), None);
}

/// Source: NIST StRD univariate, Mavro: certified standard deviation 0.000429123454003053, lag-1 0.937989183438248; the
/// band and the slope by SciPy 1.17.1. A slow walk sampled ten times a second: wander without anything else.
#[test]
fn nist_mavro_is_read_as_a_wander_series() {
    let reference = &reference()["mavro"];
    let words = include_str!("../../../../tests/data/nist/Mavro.dat").split_whitespace();
    let values: Vec<f64> = words.map(|w| w.parse().unwrap_or(f64::NAN)).collect();
    let values = &values[values.len() - 50..];
    let certified = reference["sd"].as_f64().unwrap();
    assert!(
        (certified - 0.000429123454003053).abs() < 1e-12,
        "the script read other data"
    );
    let (rms, _) = welch(values, 10.0, 50).band(0.2, 2.0).unwrap();
    close(rms, &reference["rms"], "band rms");
    assert!(rms > 0.3 * certified && rms < certified, "{rms}");
    close(
        drift(values, 10.0).unwrap(),
        &reference["slope_per_s"],
        "slope",
    );
}

/// Values without any order, from −15 to 15.
fn shuffled(count: usize, seed: usize) -> Vec<f64> {
    let value = |k: usize| ((k * k * 7 + seed * k) % 31) as f64 - 15.0;
    (0..count).map(value).collect()
}

/// Σ x·e^(−2πi·k·j/n), by its definition.
fn dft(x: &[f64], k: usize) -> Complex<f64> {
    let turn = |j: usize| -std::f64::consts::TAU * (k * j) as f64 / x.len() as f64;
    let terms = x.iter().enumerate();
    terms.map(|(j, x)| Complex::from_polar(*x, turn(j))).sum()
}

/// Welch (1967) by its definition, of even and of odd segments: spread evenly over the trace, they overlap by half or more.
#[test]
fn welch_density_is_its_definition() {
    let (rate_hz, trace) = (50.0, shuffled(23, 3));
    let segments: [(usize, &[usize]); 4] = [
        (6, &[0, 2, 5, 8, 11, 14, 17]),
        (7, &[0, 4, 8, 12, 16]),
        (15, &[0, 8]),
        (23, &[0]),
    ];
    for (n, starts) in segments {
        let hann = |k: usize| (std::f64::consts::PI * k as f64 / n as f64).sin().powi(2);
        let scale = rate_hz * (0..n).map(|k| hann(k).powi(2)).sum::<f64>();
        let seen = welch(&trace, rate_hz, n);
        assert_eq!(
            (seen.step_hz, seen.power.len()),
            (rate_hz / n as f64, n / 2 + 1)
        );
        for k in 0..=n / 2 {
            let power = |from: &usize| {
                let part = &trace[*from..from + n];
                let mean = part.iter().sum::<f64>() / n as f64;
                let windowed = part.iter().enumerate().map(|(j, x)| (x - mean) * hann(j));
                dft(&windowed.collect::<Vec<_>>(), k).norm_sqr()
            };
            let sides = if k == 0 || 2 * k == n { 1.0 } else { 2.0 };
            let mean = starts.iter().map(power).sum::<f64>() / starts.len() as f64;
            let expected = sides * mean / scale;
            assert!(
                (seen.power[k] - expected).abs() < 1e-9,
                "{n} {k}: {expected}"
            );
        }
    }
}

/// The cross-correlation at a lag is the sum of products at that lag, around the end.
#[test]
fn the_cross_correlation_of_a_density_is_the_sum_of_products() {
    for n in [8, 9] {
        let (a, b) = (shuffled(n, 3), shuffled(n, 11));
        let one_sided = |k: usize| {
            let sides = if k == 0 || 2 * k == n { 1.0 } else { 2.0 };
            sides * dft(&a, k).conj() * dft(&b, k)
        };
        let density: Vec<Complex<f64>> = (0..=n / 2).map(one_sided).collect();
        for (lag, seen) in cross_correlation(&density, n).iter().enumerate() {
            let expected: f64 = (0..n).map(|j| a[j] * b[(j + lag) % n]).sum();
            assert!(
                (seen - expected).abs() < 1e-9,
                "{n} {lag}: {seen} {expected}"
            );
        }
    }
}

/// Of a parabola the vertex is exact; without a peak the place itself stands.
#[test]
fn a_peak_is_the_vertex_of_its_parabola() {
    let parabola: Vec<f64> = (0..9).map(|k| 5.0 - (f64::from(k) - 4.3).powi(2)).collect();
    assert!((peak(&parabola, 4) - 4.3).abs() < 1e-12);
    assert_eq!(peak(&[1.0, 1.0, 1.0], 1), 1.0);
    assert_eq!(peak(&[3.0, 1.0, 2.0], 1), 1.0);
}

/// Bins of 2 Hz: both ends of a band are in it, and a density ends at half the rate.
#[test]
fn a_band_holds_both_its_ends() {
    let density = Density {
        step_hz: 2.0,
        power: vec![9.0, 1.0, 4.0, 1.0, 1.0, 1.0],
    };
    assert_eq!(density.band(2.0, 6.0), Some((12.0_f64.sqrt(), 4.0)));
    assert_eq!((density.bins(2.0, 6.0), density.bins(2.1, 5.9)), (3, 1));
    assert_eq!((density.bins(7.0, 50.0), density.bins(20.0, 50.0)), (2, 0));
    assert_eq!(density.band(20.0, 50.0), None);
}
