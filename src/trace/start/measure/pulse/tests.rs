//! Pulses and what is none, on waves that are laid out by hand.

use super::*;

#[test]
fn the_period_of_a_rectangular_pulse_is_found_to_a_fiftieth_of_a_sample() {
    let wave: Vec<f64> = (0..4000)
        .map(|k| {
            if (f64::from(k) / 37.3).fract() < 0.4 {
                120.0
            } else {
                30.0
            }
        })
        .collect();
    assert!((period(&wave).unwrap() - 37.3).abs() < 0.02);
}

#[test]
fn a_ramp_and_a_ripple_are_no_pulse() {
    let ramp: Vec<f64> = (0..2000).map(|k| 20.0 + 0.05 * f64::from(k)).collect();
    let ripple: Vec<f64> = (0..2000)
        .map(|k| 80.0 + 3.0 * (f64::from(k) * 0.3).sin())
        .collect();
    assert_eq!((period(&ramp), period(&ripple)), (None, None));
}

#[test]
fn the_period_of_a_slow_pulse_is_as_exact() {
    let level = |k| {
        if (f64::from(k) / 373.3).fract() < 0.4 {
            120.0
        } else {
            30.0
        }
    };
    let wave: Vec<f64> = (0..4000).map(level).collect();
    let seen = period(&wave).unwrap();
    assert!((seen - 373.3).abs() < 0.5, "{seen}");
}

/// Seven and a half samples a period repeat best after fifteen; six and three fifths after thirty-three.
#[test]
fn a_period_between_the_samples_is_not_taken_for_its_multiple() {
    for true_period in [7.48, 6.6, 5.62] {
        let level = |k: u32| {
            if (f64::from(k) / true_period).fract() < 0.45 {
                100.0
            } else {
                40.0
            }
        };
        let wave: Vec<f64> = (0..4000).map(level).collect();
        let seen = period(&wave).unwrap();
        assert!((seen - true_period).abs() < 0.02, "{seen}");
    }
}

/// Half of the power is chance: the correlation at the period is about 0.5 to 0.7, that of neighbours no less.
#[test]
fn a_pulse_is_found_under_noise() {
    let mut chance = tipstrike_demo::Chance::new(5, 0);
    let wave: Vec<f64> = (0..4000)
        .map(|k| {
            let level = match k % 400 {
                0..160 => 120.0,
                _ => 30.0,
            };
            level + 30.0 * chance.normals().0
        })
        .collect();
    let seen = period(&wave).unwrap();
    assert!((seen - 400.0).abs() < 8.0, "{seen}");
}

/// docs/measures.md: the swing from the 5th to the 95th percentile is over 20 % of the median, and the stretch holds 1.8 periods.
#[test]
fn a_pulse_swings_by_a_fifth_and_repeats_nearly_twice() {
    let square = |count: usize, high: f64| -> Vec<f64> {
        let level = |k| if k % 200 < 100 { 100.0 } else { high };
        (0..count).map(level).collect()
    };
    assert!(period(&square(2000, 122.0)).is_some());
    let mut spike = square(2000, 119.0);
    spike[700] = 300.0;
    assert_eq!(period(&spike), None);
    assert_eq!(period(&square(2000, 119.0)), None);
    let near = |seen: Option<f64>| (seen.unwrap() - 200.0).abs() < 1.0;
    assert!(near(period(&square(380, 150.0))));
    assert_eq!(period(&square(340, 150.0)), None);
    assert_eq!(
        period(&[100.0, 50.0, 100.0, 50.0, 100.0, 50.0, 100.0]),
        None
    );
}

/// 10 % at 5,547 Hz, 9 samples a period, is what a machine makes of a pulse that it cannot follow; as much at 200 Hz is ripple's matter.
#[test]
fn what_repeats_faster_than_any_ripple_may_swing_less() {
    let found = |hz: f64, pct: f64| {
        let wave = |k: u32| (std::f64::consts::TAU * hz * f64::from(k) / 50e3).sin();
        let trace = Trace {
            rate_hz: 50e3,
            first: 0,
            amps: (0..50_000).map(|k| 80.0 + 0.4 * pct * wave(k)).collect(),
            volts: Vec::new(),
        };
        let window = Span {
            on: 0.0,
            off: 50_000.0,
        };
        of_window(&trace, window, &[])
    };
    let fast = found(5547.0, 10.0).unwrap();
    assert!(!fast.told && (fast.period - 50e3 / 5547.0).abs() < 0.01);
    assert!(found(1950.0, 10.0).is_some_and(|pulse| pulse.told));
    assert_eq!([found(5547.0, 2.0), found(200.0, 10.0)], [None, None]);
}

/// A foot goes to and fro and dwells nowhere; what does so for longer than a foot would is the machine's.
#[test]
fn a_pedal_that_comes_back_once_is_no_pulse() {
    let pulses = |hz: f64, wave: &dyn Fn(f64) -> f64| {
        let amps = (0..2000).map(|k| 80.0 + 25.0 * wave(hz * f64::from(k) / 2000.0));
        let trace = Trace {
            rate_hz: 2000.0,
            first: 0,
            amps: amps.collect(),
            volts: Vec::new(),
        };
        let window = Span {
            on: 0.0,
            off: 2000.0,
        };
        of_window(&trace, window, &[]).is_some()
    };
    let foot = |x: f64| (std::f64::consts::TAU * x).sin();
    let machine = |x: f64| if x.fract() < 0.5 { 1.0 } else { -1.0 };
    assert_eq!([2.2, 4.0].map(|hz| pulses(hz, &foot)), [false, true]);
    assert_eq!([2.2, 4.0].map(|hz| pulses(hz, &machine)), [true, true]);
}

/// 100 A and 60 A by turns: 45 % of the time is too near to half, 30 % is not, nor are levels 5 % apart, nor a pedal's ramp.
#[test]
fn a_median_between_two_levels_is_the_one_or_the_other() {
    let turns = |part: f64, low: f64| -> Vec<f64> {
        let level = |k: u32| {
            if f64::from(k) < 1000.0 * part {
                100.0
            } else {
                low
            }
        };
        (0..1000).map(level).collect()
    };
    assert_eq!(either(&turns(0.45, 60.0)), Some([60.0, 100.0]));
    assert_eq!(either(&turns(0.3, 60.0)), None);
    assert_eq!(either(&turns(0.45, 95.0)), None);
    let ramp: Vec<f64> = (0..1000).map(|k| 50.0 + 0.05 * f64::from(k)).collect();
    assert_eq!(either(&ramp), None);
}

/// White chance swings enough and repeats nothing.
#[test]
fn a_current_that_swings_without_a_period_is_no_pulse() {
    let mut chance = tipstrike_demo::Chance::new(4, 0);
    let wave: Vec<f64> = (0..2000)
        .map(|_| 80.0 + 30.0 * chance.normals().0)
        .collect();
    assert_eq!(period(&wave), None);
}
