//! The statistics at their limits, and the interval of a shift against all differences written down.

use tipstrike::stats;
use tipstrike::stats::Blocks;

/// NIST/SEMATECH e-Handbook 6.3.2.2: mean ± 3 × mean moving range / 1.128; two values are the fewest that have one.
#[test]
fn two_values_make_a_chart_and_one_does_not() {
    let chart = stats::individuals(&[1.0, 2.0]).unwrap();
    assert_eq!(chart.centre, 1.5);
    assert!((chart.sigma - 1.0 / 1.128).abs() < 1e-9);
    assert!(stats::individuals(&[1.0]).is_none());
}

#[test]
fn groups_without_values_or_without_a_difference_have_no_test() {
    assert!(stats::kruskal_wallis(&[&[1.0, 2.0], &[3.0], &[]]).is_none());
    assert!(stats::kruskal_wallis(&[&[1.0, 2.0]]).is_none());
    assert!(stats::kruskal_wallis(&[&[1.0], &[1.0], &[1.0]]).is_none());
    let ties = Blocks::new([(vec![1.0; 3], vec![1.0; 4]), (vec![2.0; 3], vec![2.0; 4])]).unwrap();
    assert_eq!(stats::van_elteren(&ties), 0.0);
}

/// Pettitt (1979): K is the first of the largest |U|; of 0, 1, 0 both are 1.
#[test]
fn the_first_of_equal_changes_is_the_change() {
    assert_eq!(stats::pettitt(&[0.0, 1.0, 0.0]).unwrap().before, 1);
}

/// All differences b − a, weighted by their block, in order.
fn differences(
    blocks: &[(Vec<f64>, Vec<f64>)],
    weight: impl Fn(usize, usize) -> f64,
) -> Vec<(f64, f64)> {
    let mut all: Vec<(f64, f64)> = Vec::new();
    for (a, b) in blocks {
        let weight = weight(a.len(), b.len());
        all.extend(
            a.iter()
                .flat_map(|x| b.iter().map(move |y| (y - x, weight))),
        );
    }
    all.sort_by(|x, y| x.0.total_cmp(&y.0));
    all
}

/// The ends where the weight from below and from above passes total/2 − 1.96 σ of van Elteren's statistic.
fn ends(
    blocks: &[(Vec<f64>, Vec<f64>)],
    weight: impl Fn(usize, usize) -> f64,
    whole: bool,
) -> (f64, f64) {
    let all = differences(blocks, &weight);
    let total: f64 = all.iter().map(|d| d.1).sum();
    let variance = |(a, b): &(Vec<f64>, Vec<f64>)| {
        let (n, m) = (a.len() as f64, b.len() as f64);
        weight(a.len(), b.len()).powi(2) * n * m * (n + m + 1.0) / 12.0
    };
    let sigma = blocks.iter().map(variance).sum::<f64>().sqrt();
    let cut = total / 2.0 - 1.959_963_985 * sigma;
    let cut = if whole { cut.floor() } else { cut };
    let from = |side: Vec<(f64, f64)>| {
        let mut mass = 0.0;
        let reached = side.iter().find(|d| {
            mass += d.1;
            mass >= cut
        });
        reached.unwrap().0
    };
    (from(all.clone()), from(all.into_iter().rev().collect()))
}

fn spread(n: usize, from: f64) -> Vec<f64> {
    (0..n)
        .map(|k| from + (k as f64 * 0.618_034).fract() * 10.0)
        .collect()
}

#[test]
fn the_interval_of_a_shift_over_blocks_is_cut_from_all_differences() {
    let blocks = [
        (spread(10, 0.0), spread(12, 1.3)),
        (spread(7, 5.0), spread(9, 6.1)),
        (spread(4, 2.0), spread(15, 2.2)),
    ];
    let shift = stats::hodges_lehmann(&Blocks::new(blocks.clone()).unwrap(), 0.95);
    let (lo, hi) = ends(&blocks, |n, m| 1.0 / (n + m + 1) as f64, false);
    assert_eq!((shift.lo, shift.hi), (Some(lo), Some(hi)));
}

/// From 2500 pairs on the count is that of the normal approximation, in whole pairs.
#[test]
fn the_interval_of_a_shift_in_one_large_block_is_cut_in_whole_pairs() {
    for (n, m) in [(51, 50), (60, 47), (90, 40)] {
        let blocks = [(spread(n, 0.0), spread(m, 1.3))];
        let shift = stats::hodges_lehmann(&Blocks::new(blocks.clone()).unwrap(), 0.95);
        let (lo, hi) = ends(&blocks, |_, _| 1.0, true);
        assert_eq!((shift.lo, shift.hi), (Some(lo), Some(hi)));
    }
}

/// Zero has no sign where it is told.
#[test]
fn an_end_at_zero_is_the_plain_zero() {
    let counts = |twos: usize| {
        (0..40)
            .map(|k| if k < twos { 2.0 } else { 1.0 })
            .collect::<Vec<_>>()
    };
    let shift = stats::hodges_lehmann(&Blocks::single(&counts(2), &counts(14)).unwrap(), 0.95);
    assert_eq!((shift.estimate, shift.lo), (0.0, Some(0.0)));
    assert!(
        [shift.estimate, shift.lo.unwrap(), shift.hi.unwrap()]
            .iter()
            .all(|x| x.is_sign_positive()),
        "{shift:?}"
    );
}
