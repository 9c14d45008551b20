//! The statistics against published worked examples, each named with its source.

mod proportions;
mod sampling;

use approx::assert_abs_diff_eq;
use tipstrike::stats;
use tipstrike::stats::{Blocks, Interval, Plan, Series, Tail};

/// Both ends of an interval within a tolerance.
#[track_caller]
fn ends(interval: Interval, lo: f64, hi: f64, tolerance: f64) {
    assert_abs_diff_eq!(interval.lo, lo, epsilon = tolerance);
    assert_abs_diff_eq!(interval.hi, hi, epsilon = tolerance);
}

/// Ten values of NIST/SEMATECH e-Handbook 6.3.2.2.
const FLOW_RATES: [f64; 10] = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

#[test]
fn individuals_chart_of_nist_6_3_2_2() {
    let chart = stats::individuals(&FLOW_RATES).unwrap();
    assert_abs_diff_eq!(chart.centre, 50.81, epsilon = 1e-9);
    assert_abs_diff_eq!(chart.sigma * 1.128, 1.8778, epsilon = 5e-5);
    ends(chart.limits, 45.8159, 55.8041, 5e-5);
}

#[test]
fn individuals_chart_of_montgomery_and_runger_table_16_3() {
    // Limits computed with the text's d2 = 1.128; the text's own rounded ones are not at hand.
    let concentrations = [
        102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4,
        97.0, 96.7, 100.3, 101.4, 97.2, 101.0,
    ];
    let chart = stats::individuals(&concentrations).unwrap();
    assert_abs_diff_eq!(chart.centre, 99.095, epsilon = 1e-9);
    ends(chart.limits, 92.20810, 105.98190, 5e-6);
}

#[test]
fn ewma_chart_of_nist_6_3_2_4() {
    let values = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
        51.2, 52.6, 52.4, 53.6, 52.1,
    ];
    let printed = [
        50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52,
        50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
    ];
    let averages = stats::ewma(&values, 50.0, 0.3);
    for (ours, theirs) in averages.iter().zip(printed) {
        assert_abs_diff_eq!(*ours, theirs, epsilon = 0.005 + 1e-9);
    }
    // Printed limits 52.5884 and 47.4115 (the lower one cut off, not rounded).
    let half = stats::ewma_half_width(2.0539, 0.3, None);
    assert_abs_diff_eq!(50.0 + half, 52.5884, epsilon = 5e-5);
    assert_abs_diff_eq!(50.0 - half, 47.4115, epsilon = 1e-4);
    assert!(averages.iter().all(|z| (z - 50.0).abs() < half));
    // The limits at the first values, computed from the handbook's formula.
    for (n, upper) in [(1, 51.848510), (2, 52.256394), (3, 52.431406)] {
        assert_abs_diff_eq!(
            50.0 + stats::ewma_half_width(2.0539, 0.3, Some(n)),
            upper,
            epsilon = 1e-6
        );
    }
}

#[test]
fn mann_whitney_of_nist_7_3_5() {
    let a = [
        0.55, 0.67, 0.43, 0.51, 0.48, 0.60, 0.71, 0.53, 0.44, 0.65, 0.75,
    ];
    let b = [
        0.49, 0.68, 0.59, 0.72, 0.67, 0.75, 0.65, 0.77, 0.62, 0.48, 0.59,
    ];
    let test = stats::mann_whitney(&a, &b);
    assert_eq!(test.u_a, 40.0);
    // The handbook's z leaves ties and continuity out.
    assert_abs_diff_eq!(
        (40.0 - 60.5) / (121.0_f64 * 23.0 / 12.0).sqrt(),
        -1.346,
        epsilon = 5e-4
    );
    assert_abs_diff_eq!(test.p, 0.188457, epsilon = 5e-7);
    let blocks = Blocks::single(&b, &a).unwrap();
    assert_abs_diff_eq!(stats::cliffs_delta(&blocks), -0.338843, epsilon = 5e-7);
    assert_abs_diff_eq!(
        stats::hodges_lehmann(&blocks, 0.95).estimate,
        -0.06,
        epsilon = 1e-12
    );
}

/// Permeability, Hollander & Wolfe (1973) p. 69, as in the help of R's `wilcox.test`.
const PERMEABILITY: ([f64; 10], [f64; 5]) = (
    [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46],
    [1.15, 0.88, 0.90, 0.74, 1.21],
);

#[test]
fn permeability_of_hollander_and_wolfe() {
    let (x, y) = PERMEABILITY;
    let test = stats::mann_whitney(&x, &y);
    assert_eq!((test.u_a, test.exact), (35.0, true));
    // Published one-sided p 0.1272.
    assert_abs_diff_eq!(test.p / 2.0, 0.1272, epsilon = 5e-5);
    let blocks = Blocks::single(&y, &x).unwrap();
    let shift = stats::hodges_lehmann(&blocks, 0.95);
    assert_abs_diff_eq!(shift.estimate, 0.305, epsilon = 1e-12);
    // Intervals that R prints for it; their levels reached are 0.9600 and 0.9008.
    assert_abs_diff_eq!(shift.lo.unwrap(), -0.15, epsilon = 1e-12);
    assert_abs_diff_eq!(shift.hi.unwrap(), 0.76, epsilon = 1e-12);
    let at_90 = stats::hodges_lehmann(&blocks, 0.90);
    assert_abs_diff_eq!(at_90.lo.unwrap(), -0.08, epsilon = 1e-12);
    assert_abs_diff_eq!(at_90.hi.unwrap(), 0.72, epsilon = 1e-12);
}

#[test]
fn diabetes_onset_of_shier_2004_as_in_scipys_manual() {
    let males = [19.0, 22.0, 16.0, 29.0, 24.0];
    let females = [20.0, 11.0, 17.0, 12.0];
    let test = stats::mann_whitney(&males, &females);
    assert_eq!(test.u_a, 17.0);
    assert_abs_diff_eq!(test.p, 0.1111111, epsilon = 5e-8);
}

#[test]
fn three_against_four_apart_have_two_chances_in_thirty_five() {
    // 2 / C(7, 3), on paper.
    let test = stats::mann_whitney(&[1.0, 2.0, 3.0], &[4.0, 5.0, 6.0, 7.0]);
    assert_abs_diff_eq!(test.p, 2.0 / 35.0, epsilon = 1e-15);
}

#[test]
fn cliffs_delta_of_the_effsize_manual() {
    let treated = [10.0, 10.0, 20.0, 20.0, 20.0, 30.0, 30.0, 30.0, 40.0, 50.0];
    let control = [10.0, 20.0, 30.0, 40.0, 40.0, 50.0];
    let blocks = Blocks::single(&control, &treated).unwrap();
    assert_abs_diff_eq!(stats::cliffs_delta(&blocks), -0.25, epsilon = 1e-15);
}

fn series(x: &[f64], y: &[f64]) -> [Series; 1] {
    [x.iter().copied().zip(y.iter().copied()).collect()]
}

#[test]
fn tuna_of_hollander_and_wolfe() {
    let x = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1];
    let y = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8];
    let test = stats::mann_kendall(&series(&x, &y));
    // Published T = 26 of 36 pairs rising, so S = 16; p 0.1194.
    assert_eq!((test.s, test.variance), (16.0, 92.0));
    assert_abs_diff_eq!(test.p, 0.119439, epsilon = 5e-7);
}

#[test]
fn mann_kendall_of_wisconsin_nr_746_appendix_a() {
    let test = stats::mann_kendall(&series(
        &[1.0, 2.0, 3.0, 4.0, 5.0],
        &[100.0, 50.0, 85.0, 75.0, 50.0],
    ));
    assert_eq!(test.s, -5.0);
}

#[test]
fn mann_kendall_of_gilbert_1987() {
    // From memory: S = 4 of 10 15 14 20, one-sided P 0.167.
    let test = stats::mann_kendall(&series(&[1.0, 2.0, 3.0, 4.0], &[10.0, 15.0, 14.0, 20.0]));
    assert_eq!(test.s, 4.0);
    assert_abs_diff_eq!(test.p / 2.0, 0.167, epsilon = 5e-4);
}

#[test]
fn exact_tails_of_kendalls_s_are_counted() {
    // Orders of n untied values with so few falling pairs, counted on paper for n = 4 and 5.
    let rising = |n: usize, swaps: &[usize]| {
        let mut y: Vec<f64> = (0..n).map(|i| i as f64).collect();
        swaps.iter().for_each(|&i| y.swap(i, i + 1));
        let x: Vec<f64> = (0..n).map(|i| i as f64).collect();
        stats::mann_kendall(&series(&x, &y))
    };
    for (n, swaps, s, tail) in [
        (4, vec![], 6.0, 1.0 / 24.0),
        (4, vec![0], 4.0, 4.0 / 24.0),
        (5, vec![], 10.0, 1.0 / 120.0),
        (5, vec![0], 8.0, 5.0 / 120.0),
        (5, vec![0, 2], 6.0, 14.0 / 120.0),
    ] {
        let test = rising(n, &swaps);
        assert_eq!(test.s, s);
        assert_abs_diff_eq!(test.p / 2.0, tail, epsilon = 1e-14);
    }
}

#[test]
fn theil_sen_of_sen_1968() {
    let x = [1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0];
    let y = [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0];
    let fit = stats::theil_sen(&series(&x, &y), 0.93).unwrap();
    assert_eq!(fit.slope, 4.0);
    // Published 3.71 to 4.38.
    ends(fit.interval, 26.0 / 7.0, 4.375, 1e-12);
    assert_eq!(fit.intercept(), 4.0);
}
