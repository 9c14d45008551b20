//! The fast routines against slow and obvious twins.

use proptest::prelude::*;
use tipstrike::stats;
use tipstrike::stats::Blocks;

/// Values with many ties.
fn sample() -> impl Strategy<Value = Vec<f64>> {
    prop::collection::vec((-20_i32..20).prop_map(f64::from), 1..9)
}

fn blocks() -> impl Strategy<Value = Vec<(Vec<f64>, Vec<f64>)>> {
    prop::collection::vec((sample(), sample()), 1..4)
}

/// All differences b − a, each with the weight of its block, sorted.
fn differences(blocks: &[(Vec<f64>, Vec<f64>)]) -> Vec<(f64, f64)> {
    let mut all = Vec::new();
    for (a, b) in blocks {
        let weight = if blocks.len() == 1 {
            1.0
        } else {
            1.0 / (a.len() + b.len() + 1) as f64
        };
        all.extend(
            a.iter()
                .flat_map(|x| b.iter().map(move |y| (y - x, weight))),
        );
    }
    all.sort_by(|p, q| p.0.total_cmp(&q.0));
    all
}

/// The weighted median: the middle of the values at which half the weight is reached and passed.
fn weighted_median(all: &[(f64, f64)]) -> f64 {
    let half: f64 = all.iter().map(|d| d.1).sum::<f64>() / 2.0;
    let at = |enough: &dyn Fn(f64) -> bool| {
        let mut mass = 0.0;
        let reached = all.iter().find(|(_, weight)| {
            mass += weight;
            enough(mass)
        });
        reached.expect("half is reached").0
    };
    0.5 * (at(&|mass| mass >= half - 1e-9) + at(&|mass| mass > half + 1e-9))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_shift_is_the_weighted_median_of_all_differences(blocks in blocks()) {
        let ours = stats::hodges_lehmann(&Blocks::new(blocks.clone()).unwrap(), 0.95).estimate;
        prop_assert!((ours - weighted_median(&differences(&blocks))).abs() < 1e-12);
    }

    #[test]
    fn cliffs_delta_counts_all_pairs(blocks in blocks()) {
        let all = differences(&blocks);
        let total: f64 = all.iter().map(|d| d.1).sum();
        let sum: f64 = all.iter().map(|(d, w)| if *d == 0.0 { 0.0 } else { w * d.signum() }).sum();
        let ours = stats::cliffs_delta(&Blocks::new(blocks).unwrap());
        prop_assert!((ours - sum / total).abs() < 1e-12);
    }

    #[test]
    fn swapping_the_samples_turns_the_answer_round(a in sample(), b in sample()) {
        let there = Blocks::single(&a, &b).unwrap();
        let back = Blocks::single(&b, &a).unwrap();
        let (s, t) = (stats::hodges_lehmann(&there, 0.9), stats::hodges_lehmann(&back, 0.9));
        prop_assert_eq!(s.estimate, -t.estimate);
        prop_assert_eq!(s.lo, t.hi.map(|x| 0.0 - x));
        prop_assert!((there.p() - back.p()).abs() < 1e-12);
        prop_assert_eq!(stats::cliffs_delta(&there), -stats::cliffs_delta(&back));
    }

    #[test]
    fn one_block_of_many_is_van_elteren_without_correction(a in sample(), b in sample()) {
        // z² of one block is Kruskal–Wallis' H of the two samples.
        let z = stats::van_elteren(&Blocks::single(&a, &b).unwrap());
        match stats::kruskal_wallis(&[&a, &b]) {
            Some((h, _)) => prop_assert!((z * z - h).abs() < 1e-9),
            None => prop_assert_eq!(z, 0.0),
        }
    }
}

#[test]
fn the_exact_interval_inverts_the_exact_test() {
    // A shift is outside the interval exactly where the exact test refuses it.
    let a = [1.3, 2.9, 4.1, 7.7, 8.2, 9.6];
    let b = [3.4, 5.05, 6.6, 10.5, 12.35];
    let shift = stats::hodges_lehmann(&Blocks::single(&a, &b).unwrap(), 0.95);
    let (lo, hi) = (shift.lo.unwrap(), shift.hi.unwrap());
    let p_at = |delta: f64| {
        let moved: Vec<f64> = b.iter().map(|y| y - delta).collect();
        stats::mann_whitney(&a, &moved).p
    };
    for (inside, outside) in [(lo + 1e-6, lo - 1e-6), (hi - 1e-6, hi + 1e-6)] {
        assert!(p_at(inside) > 0.05, "{inside}: {}", p_at(inside));
        assert!(p_at(outside) <= 0.05, "{outside}: {}", p_at(outside));
    }
}

#[test]
fn three_against_three_bound_no_shift_at_95_in_100() {
    // Two orders of C(6, 3) = 20 are as far apart as can be: 10 in 100, on paper.
    let blocks = Blocks::single(&[1.0, 2.0, 3.0], &[4.0, 5.0, 6.0]).unwrap();
    let shift = stats::hodges_lehmann(&blocks, 0.95);
    assert_eq!((shift.estimate, shift.lo, shift.hi), (3.0, None, None));
}

#[test]
fn a_success_run_is_the_demonstration_that_allows_no_event() {
    for (confidence, reliability) in [(0.9, 0.9), (0.95, 0.98), (0.99, 0.995)] {
        let run = stats::success_run(confidence, reliability);
        assert_eq!(
            stats::demonstration_size(0, 1.0 - reliability, confidence),
            run
        );
    }
}
