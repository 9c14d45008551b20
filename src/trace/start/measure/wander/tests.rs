//! Wander against closed forms: the fit of what the current explains, noise, gaps, lines.

use crate::start::measure::wander::*;

#[test]
fn a_decay_is_the_exponential_at_even_and_uneven_times() {
    let even: Vec<f64> = (0..200).map(|k| 0.01 + 0.003 * f64::from(k)).collect();
    let uneven: Vec<f64> = even.iter().map(|t| t + 0.1 * t * t).collect();
    assert!(is_even(&even) && !is_even(&uneven) && !is_even(&even[..1]));
    let mut moved = even.clone();
    moved[100] += 1e-6;
    assert!(!is_even(&moved));
    for times in [even, uneven] {
        for (seen, t) in decay(&times, is_even(&times), 0.05).iter().zip(&times) {
            let expected = (-t / 0.05).exp();
            assert!((seen - expected).abs() < 1e-12 * expected, "{t}");
        }
    }
}

/// Of a residual that is one of the forty decays, that decay explains all, and is found wherever it stands in the search.
#[test]
fn the_warm_up_that_explains_most_is_found() {
    let times: Vec<f64> = (0..400).map(|k| 0.0025 * f64::from(k)).collect();
    let mut others = Regressors::default();
    others.add(vec![1.0; times.len()]);
    for k in 0..WARM_UP_STEPS {
        let part = k as f64 / (WARM_UP_STEPS - 1) as f64;
        let tau = WARM_UP_S.0 * (WARM_UP_S.1 / WARM_UP_S.0).powf(part);
        let decay: Vec<f64> = times.iter().map(|t| (-t / tau).exp()).collect();
        let mut residual = decay.clone();
        others.take_from(&mut residual);
        let found = warm_up(&times, &residual, &others);
        let worst = found.iter().zip(&decay).map(|(a, b)| (a - b).abs());
        let worst = worst.fold(0.0, f64::max);
        assert!(worst < 1e-9, "{k}: {worst}");
    }
}

/// docs/measures.md: a standard deviation under 0.5 % of the mean, whatever the sign.
#[test]
fn a_current_is_steady_under_half_a_percent() {
    for sign in [1.0, -1.0] {
        assert!(is_steady(&[sign * 100.4, sign * 99.6]));
        assert!(!is_steady(&[sign * 100.6, sign * 99.4]));
    }
}

#[test]
fn a_segment_has_a_length_that_transforms_quickly() {
    let seen = [0, 1, 16, 17, 100, 2083, 2500].map(quick);
    assert_eq!(seen, [1, 1, 16, 16, 100, 2080, 2500]);
}

/// A steady current leaves the mean and the warm-up, a moving one its own slope besides: what they explain must be more values
/// than these.
#[test]
fn as_few_values_as_unknowns_explain_nothing() {
    let told = |count: usize, amps: fn(usize) -> f64| {
        let mut evidence = Evidence::default();
        for k in 0..count {
            evidence.push(0.1 * k as f64, 12.0 + (k % 2) as f64, amps(k), false);
        }
        evidence.push(9.0, 99.0, 99.0, true);
        unexplained(&evidence, Slope::Whole).is_some()
    };
    let steady = |_: usize| 80.0;
    let moving = |k: usize| 80.0 + 10.0 * (k % 3) as f64;
    assert_eq!([2, 3].map(|count| told(count, steady)), [false, true]);
    assert_eq!([3, 4].map(|count| told(count, moving)), [false, true]);
}

#[test]
fn harmonics_go_up_to_the_top() {
    assert_eq!(
        harmonics(50.0, 150.0).collect::<Vec<_>>(),
        [50.0, 100.0, 150.0]
    );
}

/// A tone of 0.3 V rms at 20 Hz, 4000 values a second.
fn tone(seconds: f64, noise: f64, missing: f64) -> Even {
    let wave = |k: usize| {
        0.3 * std::f64::consts::SQRT_2 * (std::f64::consts::TAU * k as f64 / 200.0).sin()
    };
    Even {
        rate_hz: 4000.0,
        values: (0..(4000.0 * seconds) as usize).map(wave).collect(),
        noise,
        missing,
    }
}

const MAINS: Lines = Lines {
    mains_hz: Some(50.0),
    repeats_hz: None,
};

/// The density of white noise of 0.5 V is 2·0.25/4000 V²/Hz: over the 100 bins of 2 Hz in the band 0.025 V².
#[test]
fn white_noise_is_taken_off_and_missing_power_given_back() {
    let rms = |noise: f64, missing: f64| {
        band_rms(tone(2.0, noise, missing), MAINS, 2.0, 200.0)
            .unwrap()
            .rms
    };
    let near = |seen: f64, expected: f64| {
        assert!((seen - expected).abs() < 1e-6, "{seen} is not {expected}");
    };
    near(rms(0.0, 0.0), 0.3);
    near(rms(0.5, 0.0), (0.09_f64 - 0.025).sqrt());
    near(rms(0.0, 0.2), 0.3 / 0.8_f64.sqrt());
    near(rms(5.0, 0.0), 0.0);
}

#[test]
fn a_quarter_of_a_second_is_enough_for_wander_and_less_is_not() {
    let measured = |seconds: f64| band_rms(tone(seconds, 0.0, 0.0), MAINS, 2.0, 200.0);
    assert!(measured(0.25).is_some());
    assert!(measured(0.249).is_none());
}

/// White noise of 1 V at 4000 Hz has 0.1 V² in the 100 bins of 2 Hz, with or without a pulse of 10 Hz whose twenty
/// harmonics are taken out: what they take of the band is given back.
#[test]
fn what_the_lines_of_a_pulse_take_of_the_band_is_given_back() {
    let mut chance = tipstrike_demo::Chance::new(3, 0);
    let mut traces = Vec::new();
    for _ in 0..40 {
        traces.push((0..4000).map(|_| chance.normals().0).collect::<Vec<f64>>());
    }
    let power = |pulse_hz: Option<f64>| {
        let of = |values: &Vec<f64>| {
            let even = Even {
                rate_hz: 4000.0,
                values: values.clone(),
                noise: 0.0,
                missing: 0.0,
            };
            let lines = Lines {
                mains_hz: Some(1e4),
                repeats_hz: pulse_hz,
            };
            band_rms(even, lines, 2.0, 200.0).unwrap().rms.powi(2)
        };
        traces.iter().map(of).sum::<f64>() / traces.len() as f64
    };
    for pulse_hz in [None, Some(10.0)] {
        let seen = power(pulse_hz);
        assert!((seen / 0.1 - 1.0).abs() < 0.03, "{pulse_hz:?}: {seen}");
    }
}

/// Six harmonics of 30 Hz lie in the band of 198 Hz; over 2 s a tone of 20 Hz has nothing in common with them.
#[test]
fn a_tone_between_the_lines_loses_nothing_to_be_given_back() {
    let lines = Lines {
        mains_hz: Some(1e4),
        repeats_hz: Some(30.0),
    };
    let found = band_rms(tone(2.0, 0.0, 0.0), lines, 2.0, 200.0).unwrap();
    assert!((found.rms - 0.3).abs() < 1e-6, "{}", found.rms);
}

#[test]
fn a_pulse_of_three_periods_in_the_window_is_taken_out_and_a_slower_one_is_left() {
    let rms = |pulse_hz: f64| {
        let lines = Lines {
            mains_hz: Some(1e4),
            repeats_hz: Some(pulse_hz),
        };
        let quarter = tone(0.25, 0.0, 0.0);
        band_rms(quarter, lines, 2.0, 200.0).unwrap().rms
    };
    assert!(rms(20.0) < 1e-6);
    let left = rms(11.0);
    assert!(left > 0.25, "{left}");
}

/// A current of 76 A with a pick-up of 1.5 A and a voltage of 11.6 V at one frequency: a resistance of v/i is 0.153 Ω, so 0.32 V beside it
/// (0.213 Ω) are no answer to the current, and 0.15 V (0.1 Ω) may be one.
#[test]
fn the_current_explains_no_more_of_the_voltage_than_a_resistance_would() {
    let left = |volts: f64| {
        let mut evidence = Evidence::default();
        for k in 0..4000 {
            let t = 2.5e-4 * f64::from(k);
            let tone = (std::f64::consts::TAU * 59.5 * t).sin();
            evidence.push(t, 11.6 + volts * tone, 76.0 + 1.5 * tone, false);
        }
        let residual = unexplained(&evidence, Slope::Whole).unwrap();
        (dot(&residual, &residual) / 4000.0).sqrt()
    };
    let rms = 0.32 * 0.5_f64.sqrt();
    assert!((left(0.32) - rms).abs() < 0.01 * rms, "{}", left(0.32));
    assert!(left(0.15) < 1e-3, "{}", left(0.15));
}

/// What a ripple's lines hold inside the band is told: 0.3 V at 20 Hz, of a ripple of 20 Hz and of one of 300 Hz.
#[test]
fn what_stands_at_the_frequency_of_a_ripple_is_told() {
    let at = |hz: f64| {
        let lines = Lines {
            mains_hz: Some(1e4),
            repeats_hz: Some(hz),
        };
        let found = band_rms(tone(2.0, 0.0, 0.0), lines, 2.0, 200.0).unwrap();
        (found.rms, found.repeats_rms)
    };
    let (left, taken) = at(20.0);
    assert!(left < 1e-6 && (taken - 0.3).abs() < 1e-6, "{left} {taken}");
    let (left, taken) = at(300.0);
    assert!((left - 0.3).abs() < 1e-6 && taken < 1e-6, "{left} {taken}");
}

/// 5 V of wander beside noise of 2 V, or of 4 V: of √(25 + 4) the noise is 0.37, of √(25 + 16) it is 0.62.
#[test]
fn noise_that_may_be_an_image_is_put_back_or_hides_the_wander() {
    let found = |noise_rms: f64| Wander {
        noise_rms,
        rms: 5.0,
        ..band_rms(
            tone(1.0, 0.0, 0.0),
            Lines {
                mains_hz: None,
                repeats_hz: None,
            },
            2.0,
            200.0,
        )
        .unwrap()
    };
    assert_eq!(found(2.0).in_images().map(|w| w.rms), Some(29f64.sqrt()));
    assert_eq!(found(4.0).in_images(), None);
    assert_eq!(
        Wander {
            rms: 0.0,
            ..found(1.0)
        }
        .in_images(),
        None
    );
}
