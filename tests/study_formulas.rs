//! Statistics against numbers worked out from the published formulas by hand or on their own code (Python 3.11).

use tipstrike::stats;
use tipstrike::stats::{Blocks, mann_kendall, normal_cdf, normal_quantile, pettitt};
use tipstrike::study::plan::under_limit;

fn near(seen: f64, expected: f64) {
    let off = (seen - expected).abs();
    assert!(
        off <= 1e-9 * expected.abs().max(1.0),
        "{seen} is not {expected}"
    );
}

/// Success run n = ln(1 − C)/ln R: ln ¼/ln ½ is 2 and stays 2; at 95 % and 95 % it is 58.4, that is 59.
#[test]
fn a_success_run_that_is_whole_is_not_rounded_up() {
    assert_eq!(stats::success_run(0.75, 0.5), 2);
    assert_eq!(under_limit(0.05, 0, 0.95).unwrap().starts, 59);
}

/// Pettitt (1979): five low values, then five high: K = |2·15 − 5·11| = 25, p = 2·exp(−6·25²/(10³ + 10²)).
#[test]
fn a_jump_in_the_middle_is_found_with_its_approximate_p() {
    let values = [3.0, 1.0, 2.0, 5.0, 4.0, 9.0, 7.0, 10.0, 6.0, 8.0];
    let found = pettitt(&values).unwrap();
    assert_eq!(found.before, 5);
    near(found.p, 2.0 * (-6.0 * 625.0 / 1100.0_f64).exp());
    assert_eq!(pettitt(&[1.0]), None);
}

/// Kendall (1970): without ties Var S = n(n − 1)(2n + 5)/18; over 30 points p is normal with continuity correction.
#[test]
fn a_long_series_has_the_normal_p_of_its_trend() {
    let series: Vec<(f64, f64)> = (0..40)
        .map(|k| (f64::from(k), f64::from(k * 17 % 40) + 0.4 * f64::from(k)))
        .collect();
    let found = mann_kendall(&[series]);
    near(found.variance, 40.0 * 39.0 * 85.0 / 18.0);
    near(
        found.p,
        2.0 * normal_cdf(-(found.s.abs() - 1.0) / found.variance.sqrt()),
    );
    assert!(found.p > 0.001 && found.p < 0.5, "{found:?}");
    // Two points: S is 1 or −1.
    near(mann_kendall(&[vec![(1.0, 2.0), (2.0, 3.0)]]).variance, 1.0);
    // Ties have no exact p here: of 1, 1, 2 in order S = 2, Var S = (66 − 18)/18.
    let tied = mann_kendall(&[vec![(1.0, 1.0), (2.0, 1.0), (3.0, 2.0)]]);
    near(tied.variance, 48.0 / 18.0);
    near(tied.p, 2.0 * normal_cdf(-1.0 / (48.0 / 18.0_f64).sqrt()));
}

/// Hollander & Wolfe (1973), 4.3: with many pairs C = nm/2 − z·√(nm(n + m + 1)/12), cut down to a whole number, and the
/// interval goes from the C-th smallest difference to the C-th largest.
#[test]
fn the_interval_of_a_shift_in_large_samples_counts_from_both_ends() {
    let (n, m) = (60, 70);
    let value = |k: usize| (k as f64 * 0.618_033_988_75).fract() * 10.0;
    let a: Vec<f64> = (0..n).map(value).collect();
    let b: Vec<f64> = (0..m).map(|k| value(k + 1000) + 1.0).collect();
    let mut all: Vec<f64> = a
        .iter()
        .flat_map(|x| b.iter().map(move |y| y - x))
        .collect();
    all.sort_by(f64::total_cmp);
    let pairs = (n * m) as f64;
    let spread = (pairs * (n + m + 1) as f64 / 12.0).sqrt();
    let cut = (pairs / 2.0 - normal_quantile(0.975) * spread).floor() as usize;
    let found = stats::hodges_lehmann(&Blocks::single(&a, &b).unwrap(), 0.95);
    near(found.lo.unwrap(), all[cut - 1]);
    near(found.hi.unwrap(), all[all.len() - cut]);
}

/// Ranks of one group, or of a group without values, tell no groups apart.
#[test]
fn one_group_and_an_empty_one_have_no_rank_test() {
    assert_eq!(stats::kruskal_wallis(&[&[1.0, 2.0]]), None);
    assert_eq!(stats::kruskal_wallis(&[&[1.0, 2.0], &[]]), None);
    assert!(stats::kruskal_wallis(&[&[1.0, 2.0], &[3.0, 4.0]]).is_some());
}
