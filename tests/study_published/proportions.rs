//! Rates, their intervals and differences, and tables of counts.

use super::*;

#[test]
fn proportions_of_nist_7_2_4_1() {
    // One-sided 95 %: the lower end of the two-sided 90 % interval. Printed 0.09577.
    assert_abs_diff_eq!(stats::wilson(26, 200, 0.90).lo, 0.09577, epsilon = 5e-6);
    // Printed 0.071354 and 0.401029; the last digit of the second is the handbook's rounding.
    ends(
        stats::clopper_pearson(4, 20, 0.90),
        0.071354,
        0.401029,
        1.1e-6,
    );
}

#[test]
fn fisher_on_convictions_as_in_rs_manual() {
    let test = |tail| stats::fisher((2, 17), (10, 13), tail);
    assert_abs_diff_eq!(test(Tail::Both), 0.0005367241, epsilon = 5e-11);
    assert_abs_diff_eq!(test(Tail::Less), 0.0004652, epsilon = 5e-8);
}

#[test]
fn fisher_on_the_tea_tasting() {
    assert_abs_diff_eq!(
        stats::fisher((3, 4), (1, 4), Tail::Greater),
        0.2428571,
        epsilon = 5e-8
    );
    assert_abs_diff_eq!(
        stats::fisher((3, 4), (1, 4), Tail::Both),
        0.4857143,
        epsilon = 5e-8
    );
}

#[test]
fn fisher_on_the_example_of_scipys_manual() {
    assert_abs_diff_eq!(
        stats::fisher((8, 10), (1, 6), Tail::Both),
        0.0349650,
        epsilon = 5e-8
    );
}

#[test]
fn exact_interval_of_rs_binom_test_example() {
    // 682 of 925 (Conover's plants): 0.7076683 to 0.7654066.
    ends(
        stats::clopper_pearson(682, 925, 0.95),
        0.707668,
        0.765407,
        5e-7,
    );
    ends(stats::wilson(682, 925, 0.95), 0.707996, 0.764636, 5e-7);
}

#[test]
fn wilson_intervals_of_newcombe_1998a_table_i() {
    for (k, n, lo, hi) in [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ] {
        ends(stats::wilson(k, n, 0.95), lo, hi, 5e-5);
    }
    for (k, n, lo, hi) in [
        (81, 263, 0.252737, 0.367622),
        (15, 148, 0.057844, 0.161650),
        (0, 20, 0.0, 0.168433),
        (1, 29, 0.000873, 0.177644),
    ] {
        ends(stats::clopper_pearson(k, n, 0.95), lo, hi, 1e-6);
    }
}

#[test]
fn differences_of_newcombe_1998b_table_ii() {
    // His differences are first less second.
    for (first, second, lo, hi) in [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((5, 56), (0, 29), -0.0381, 0.1926),
    ] {
        ends(stats::newcombe(second, first, 0.95), lo, hi, 5e-5);
    }
}

#[test]
fn no_event_in_n_leaves_about_three_in_n() {
    // 1 − 0.05^(1/n), on paper; the rule of three is its upper neighbour.
    for (n, upper) in [
        (10, 0.258866),
        (20, 0.139108),
        (30, 0.095034),
        (50, 0.058155),
        (59, 0.049508),
        (100, 0.029513),
        (300, 0.009936),
    ] {
        let ours = stats::zero_events_upper(n, 0.95);
        assert_abs_diff_eq!(ours, upper, epsilon = 5e-7);
        assert!(ours < 3.0 / n as f64);
    }
}
