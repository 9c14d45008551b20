//! Statistics against numbers worked out from the published formulas by hand or on their own code (Python 3.11).

use tipstrike::stats;
use tipstrike::stats::{
    BettingPairs, Blocks, RatesProcess, mann_kendall, normal_cdf, normal_quantile, pettitt,
};
use tipstrike::study::plan::under_limit;

fn near(seen: f64, expected: f64) {
    let off = (seen - expected).abs();
    assert!(
        off <= 1e-9 * expected.abs().max(1.0),
        "{seen} is not {expected}"
    );
}

fn rates(pairs: &[(bool, bool)]) -> RatesProcess {
    let mut process = RatesProcess::default();
    for &(a, b) in pairs {
        process.add(0, 0, a);
        process.add(0, 1, b);
    }
    process
}

/// Turner, Ly & Grünwald (2024). Three pairs of an event in the first sample alone: the rates before each are ½ and ½,
/// 1.18/1.36 and 0.18/1.36, 2.18/2.36 and 0.18/2.36; the mean of the two is always ½, so the factors are 1,
/// (1.18/1.36)²/¼ and (2.18/2.36)²/¼.
#[test]
fn evidence_that_rates_differ_is_the_product_of_its_bets() {
    let three = rates(&[(true, false); 3]);
    near(three.largest_e(), 10.277681660899654);
    near(three.p(), 1.0 / 10.277681660899654);
    assert!(three.first_is_higher() && three.pairs() == 3);
    let (both, first, none) = ((true, true), (true, false), (false, false));
    let mixed = [both, first, none, first, both, first, first];
    near(rates(&mixed).largest_e(), 2.5708128843010503);
    // A pair against the bet takes from the capital, not from the largest there was.
    let against = [&mixed[..], &[(false, true)]].concat();
    near(rates(&against).largest_e(), 2.5708128843010503);
}

/// Robbins (1970), uniform mixture. Without an event in n trials the upper end is 1 − (α/(n + 1))^(1/n).
#[test]
fn the_confidence_sequence_of_a_rate_ends_where_the_mixture_says() {
    let ends = |k, n| {
        let found = stats::rate_sequence(k, n, 0.95);
        (found.lo, found.hi)
    };
    assert_eq!(ends(0, 0), (0.0, 1.0));
    let upper = 1.0 - (0.05_f64 / 11.0).powf(0.1);
    near(ends(0, 10).1, upper);
    near(ends(10, 10).0, 1.0 - upper);
    assert_eq!((ends(0, 10).0, ends(10, 10).1), (0.0, 1.0));
    near(ends(3, 10).0, 0.03664029037550996);
    near(ends(3, 10).1, 0.7332594738358065);
    near(ends(7, 20).0, 0.10348269637453089);
    near(ends(7, 20).1, 0.6728343685787559);
}

/// Waudby-Smith & Ramdas (2024), theorem 3, predictable plug-in bets with c = ¾.
#[test]
fn the_betting_interval_is_that_of_the_same_bets_on_other_code() {
    let first = [0.2, 0.4, 0.3, 0.1, 0.35, 0.25, 0.3, 0.2, 0.15, 0.4];
    let second = [0.7, 0.8, 0.6, 0.9, 0.75, 0.65, 0.85, 0.7, 0.8, 0.5];
    let mut pairs = BettingPairs::new(0.95);
    for _ in 0..3 {
        for (a, b) in first.iter().zip(second) {
            pairs.add(0, 0, *a);
            pairs.add(0, 1, b);
        }
    }
    assert_eq!(pairs.pairs(), 30);
    near(pairs.interval().lo, 0.24022197025761605);
    near(pairs.interval().hi, 0.5771706335246249);
}

/// Success run n = ln(1 − C)/ln R: ln ¼/ln ½ is 2 and stays 2; at 95 % and 95 % it is 58.4, that is 59.
#[test]
fn a_success_run_that_is_whole_is_not_rounded_up() {
    assert_eq!(stats::success_run(0.75, 0.5), 2);
    assert_eq!(under_limit(0.05, 0, 0.95).unwrap().starts, 59);
}

/// Half as wide takes four times as many.
#[test]
fn a_width_shrinks_with_the_root_of_the_size() {
    near(stats::width_size(2.0, 10.0, 1.0), 40.0);
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
