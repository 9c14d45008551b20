//! Bias and limits of agreement against the worked example of Bland and Altman, SciPy, and chance.

use serde_json::Value;
use tipstrike::demo::Chance;
use tipstrike::stats::{agreement, poisson_rate};

/// Peak expiratory flow of 17 people, l/min, first reading of each of two meters (Bland & Altman 1986, Lancet i:307–310,
/// table 1): from memory. Mean and deviation of the differences are the published ones to all digits printed there.
const LARGE: [f64; 17] = [
    494.0, 395.0, 516.0, 434.0, 476.0, 557.0, 413.0, 442.0, 650.0, 433.0, 417.0, 656.0, 267.0,
    478.0, 178.0, 423.0, 427.0,
];
const MINI: [f64; 17] = [
    512.0, 430.0, 520.0, 428.0, 500.0, 600.0, 364.0, 380.0, 658.0, 445.0, 432.0, 626.0, 260.0,
    477.0, 259.0, 350.0, 451.0,
];

#[track_caller]
fn near(what: &str, ours: f64, published: f64, tolerance: f64) {
    assert!(
        (ours - published).abs() <= tolerance,
        "{what}: {ours}, published {published}"
    );
}

#[test]
fn two_flow_meters_agree_as_bland_and_altman_found() {
    let differences: Vec<f64> = LARGE.iter().zip(MINI).map(|(a, b)| a - b).collect();
    let found = agreement(&differences, 0.95).unwrap();
    // Published, from memory: −2.1 and 38.8; 95 % interval of the bias −22.0 to 17.8.
    near("bias", found.bias, -2.1, 0.05);
    near("deviation", found.sd, 38.8, 0.05);
    near("bias, lower end", found.bias_interval.lo, -22.0, 0.1);
    near("bias, upper end", found.bias_interval.hi, 17.8, 0.1);
    // Published with 2 in place of 1.96 and 3s²/n for the variance of a limit: limits −79.7 and 75.5, the lower one −114.3 to
    // −45.1, the upper one 40.9 to 110.1. 0.04 deviations are 1.6 l/min, and the variance differs by 2 %.
    near("lower limit", found.limits.lo, -79.7, 1.7);
    near("upper limit", found.limits.hi, 75.5, 1.7);
    near(
        "lower limit, lower end",
        found.lower_interval.lo,
        -114.3,
        2.7,
    );
    near(
        "lower limit, upper end",
        found.lower_interval.hi,
        -45.1,
        2.7,
    );
    near("upper limit, lower end", found.upper_interval.lo, 40.9, 2.7);
    near(
        "upper limit, upper end",
        found.upper_interval.hi,
        110.1,
        2.7,
    );
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

#[test]
fn agreement_and_rates_are_those_of_scipy() {
    let reference: Value = serde_json::from_str(include_str!("reference/agreement.json")).unwrap();
    let same = |ours: f64, theirs: f64| (ours - theirs).abs() <= 1e-8 * theirs.abs().max(1e-3);
    for table in reference["tables"].as_array().unwrap() {
        let found = agreement(
            &numbers(&table["differences"]),
            table["level"].as_f64().unwrap(),
        );
        let found = found.unwrap();
        let ours = [
            found.bias,
            found.bias_interval.lo,
            found.bias_interval.hi,
            found.sd,
            found.limits.lo,
            found.lower_interval.lo,
            found.lower_interval.hi,
            found.limits.hi,
            found.upper_interval.lo,
            found.upper_interval.hi,
        ];
        let theirs = numbers(&table["agreement"]);
        assert!(
            ours.iter().zip(&theirs).all(|(a, b)| same(*a, *b)),
            "{ours:?} {theirs:?}"
        );
    }
    for rate in reference["rates"].as_array().unwrap() {
        let number = |key: &str| rate[key].as_f64().unwrap();
        let found = poisson_rate(
            rate["k"].as_u64().unwrap(),
            number("exposure"),
            number("level"),
        );
        let theirs = numbers(&rate["interval"]);
        assert!(
            same(found.lo, theirs[0]) && same(found.hi, theirs[1]),
            "{found:?} {theirs:?}"
        );
    }
}

/// 95 of 100 intervals of bias and limits hold the truth: for normal differences the limits are mean ± 1.959964 deviations.
#[test]
fn intervals_of_the_limits_hold_the_truth_as_often_as_they_say() {
    const DRAWS: usize = 2000;
    for n in [10, 40] {
        let mut chance = Chance::new(1986, n as u64);
        let mut held = [0; 3];
        for _ in 0..DRAWS {
            let drawn: Vec<f64> = (0..n).map(|_| 3.0 + 2.0 * chance.normals().0).collect();
            let found = agreement(&drawn, 0.95).unwrap();
            let holds = |interval: tipstrike::stats::Interval, truth: f64| {
                usize::from(interval.lo <= truth && truth <= interval.hi)
            };
            held[0] += holds(found.bias_interval, 3.0);
            held[1] += holds(found.lower_interval, 3.0 - 2.0 * 1.959964);
            held[2] += holds(found.upper_interval, 3.0 + 2.0 * 1.959964);
        }
        // The error of 0.95 in 2000 draws is 0.005; the interval of a limit is approximate (Bland & Altman 1999).
        let share = held.map(|count| count as f64 / DRAWS as f64);
        assert!((share[0] - 0.95).abs() < 0.015, "{n}: {share:?}");
        assert!(
            share[1..].iter().all(|s| (0.92..0.98).contains(s)),
            "{n}: {share:?}"
        );
    }
}
