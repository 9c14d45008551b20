//! Sample sizes, and acceptance sampling by attributes.

use super::*;

#[test]
fn success_runs() {
    // n = ln(1 − C) / ln R rounded up, on paper.
    for (confidence, sizes) in [
        (0.90, [11, 22, 45, 114, 230, 460, 2302]),
        (0.95, [14, 29, 59, 149, 299, 598, 2995]),
        (0.99, [21, 44, 90, 228, 459, 919, 4603]),
    ] {
        let reliabilities = [0.80, 0.90, 0.95, 0.98, 0.99, 0.995, 0.999];
        let ours = reliabilities.map(|r| stats::success_run(confidence, r));
        assert_eq!(ours, sizes);
    }
}

#[test]
fn sizes_and_powers_of_rs_power_prop_test_manual() {
    assert_abs_diff_eq!(
        stats::rates_power(50.0, 0.50, 0.75, 0.95),
        0.740,
        epsilon = 5e-4
    );
    assert_abs_diff_eq!(
        stats::rates_size(0.50, 0.75, 0.95, 0.90),
        76.7,
        epsilon = 0.05
    );
    assert_abs_diff_eq!(
        stats::rates_power(50.0, 0.50, 0.8026, 0.95),
        0.90,
        epsilon = 5e-4
    );
    // Further values by the same formula, computed elsewhere.
    for (p1, p2, size) in [
        (0.90, 0.99, 99.54),
        (0.95, 0.99, 284.32),
        (0.05, 0.10, 434.43),
    ] {
        assert_abs_diff_eq!(stats::rates_size(p1, p2, 0.95, 0.80), size, epsilon = 0.005);
    }
}

#[test]
fn code_letters_of_iso_2859_1_level_ii() {
    // Second-hand: the standard's table 1 as reprinted.
    let lots = [
        (2, 'A'),
        (8, 'A'),
        (9, 'B'),
        (15, 'B'),
        (16, 'C'),
        (25, 'C'),
        (26, 'D'),
        (50, 'D'),
        (51, 'E'),
        (90, 'E'),
        (91, 'F'),
        (150, 'F'),
        (151, 'G'),
        (280, 'G'),
        (281, 'H'),
        (500, 'H'),
        (501, 'J'),
        (1200, 'J'),
        (1201, 'K'),
        (3200, 'K'),
        (3201, 'L'),
        (10_000, 'L'),
        (10_001, 'M'),
        (35_000, 'M'),
        (35_001, 'N'),
        (150_000, 'N'),
        (150_001, 'P'),
        (500_000, 'P'),
        (500_001, 'Q'),
    ];
    for (lot, letter) in lots {
        assert_eq!(stats::code_letter(lot), letter, "lot of {lot}");
    }
}

#[test]
fn plans_of_iso_2859_1_normal_inspection() {
    // Second-hand: AQL 2.5 as reprinted; D and E by the arrow rule. AQL 1.0 and 4.0 from memory.
    for (letter, aql, n, accept) in [
        ('C', 2.5, 5, 0),
        ('D', 2.5, 5, 0),
        ('E', 2.5, 20, 1),
        ('F', 2.5, 20, 1),
        ('G', 2.5, 32, 2),
        ('H', 2.5, 50, 3),
        ('J', 2.5, 80, 5),
        ('K', 2.5, 125, 7),
        ('A', 2.5, 5, 0),
        ('R', 2.5, 500, 21),
        ('E', 1.0, 13, 0),
        ('H', 1.0, 50, 1),
        ('J', 1.0, 80, 2),
        ('K', 1.0, 125, 3),
        ('L', 1.0, 200, 5),
        ('B', 4.0, 3, 0),
        ('E', 4.0, 13, 1),
        ('F', 4.0, 20, 2),
        ('G', 4.0, 32, 3),
        ('H', 4.0, 50, 5),
        ('J', 4.0, 80, 7),
    ] {
        assert_eq!(
            stats::sampling_plan(letter, aql),
            Some(Plan { n, accept }),
            "{letter} {aql}"
        );
    }
    assert_eq!(stats::sampling_plan('C', 3.0), None);
    assert_eq!(stats::sampling_plan('I', 2.5), None);
}

#[test]
fn operating_characteristics_of_the_plans() {
    // Binomial, computed with SciPy 1.17.1.
    for (n, accept, chances) in [
        (5, 0, [0.950990, 0.881096, 0.815373, 0.714592, 0.590490]),
        (20, 1, [0.983141, 0.911758, 0.810338, 0.623301, 0.391747]),
        (32, 2, [0.996007, 0.954776, 0.865117, 0.654393, 0.366684]),
        (50, 3, [0.998404, 0.963796, 0.860869, 0.589591, 0.250294]),
        (80, 5, [0.999840, 0.984785, 0.898811, 0.579782, 0.176917]),
        (125, 7, [0.999958, 0.986384, 0.870926, 0.430436, 0.060053]),
        (13, 0, [0.877521, 0.719548, 0.588201, 0.417399, 0.254187]),
    ] {
        for (rate, chance) in [0.01, 0.025, 0.04, 0.065, 0.10].into_iter().zip(chances) {
            let ours = stats::acceptance_probability(Plan { n, accept }, rate);
            assert_abs_diff_eq!(ours, chance, epsilon = 5e-7);
        }
    }
}
