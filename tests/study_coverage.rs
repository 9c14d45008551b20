//! Do the intervals cover as often as they say, and the tests err as seldom as they say?
//! Simulations with fixed seeds; where it can be had, the chance is summed exactly instead.

#[path = "study_coverage/groups.rs"]
mod groups;
mod long_form;
mod study_support;
#[path = "study_coverage/tips.rs"]
mod tips;
#[path = "study_coverage/wear.rs"]
mod wear;

use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use study_support::{normal, skewed};
use tipstrike::stats;
use tipstrike::stats::{Blocks, Series};

fn values(rng: &mut ChaCha8Rng, n: usize, shift: f64) -> Vec<f64> {
    (0..n).map(|_| skewed(rng) + shift).collect()
}

/// A third of the draws by default, all of them with `TIPSTRIKE_LONG=1`.
fn draws(all: usize) -> usize {
    match crate::long_form::long() {
        true => all,
        false => all / 3,
    }
}

/// Part of `runs` in which the interval of a true shift of 10 holds it.
fn shift_coverage(seed: u64, runs: usize, sizes: &[(usize, usize)]) -> f64 {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let held = (0..runs).filter(|_| {
        let blocks = sizes.iter().map(|&(n, m)| {
            // Each block at a level of its own: what coupons do.
            let level = 30.0 * normal(&mut rng);
            (
                values(&mut rng, n, level),
                values(&mut rng, m, level + 10.0),
            )
        });
        let blocks = Blocks::new(blocks.collect::<Vec<_>>()).unwrap();
        let shift = stats::hodges_lehmann(&blocks, 0.95);
        shift.lo.is_none_or(|lo| lo <= 10.0) && shift.hi.is_none_or(|hi| hi >= 10.0)
    });
    held.count() as f64 / runs as f64
}

#[test]
fn shift_intervals_cover_93_to_97_in_100() {
    for (seed, runs, sizes) in [
        (1, 3000, &[(15, 12)][..]),
        (2, 1500, &[(60, 50)]),
        (3, 2000, &[(10, 8), (6, 9), (7, 7)]),
        (4, 2000, &[(5, 5), (5, 5), (5, 5), (5, 5)]),
    ] {
        let coverage = shift_coverage(seed, draws(runs), sizes);
        assert!((0.93..=0.97).contains(&coverage), "{sizes:?}: {coverage}");
    }
}

#[test]
fn exact_shift_intervals_of_tiny_samples_cover_at_least_95_in_100() {
    for (seed, sizes) in [(5, (4, 4)), (6, (5, 6)), (7, (3, 8))] {
        let coverage = shift_coverage(seed, 4000, &[sizes]);
        // Three standard errors of 4000 runs are one in 100.
        assert!(coverage >= 0.94, "{sizes:?}: {coverage}");
    }
}

#[test]
fn clopper_pearson_covers_at_least_95_in_100_at_every_rate() {
    // Summed over all outcomes: no chance in it.
    for n in [5_u64, 12, 40] {
        let intervals: Vec<_> = (0..=n)
            .map(|k| stats::clopper_pearson(k, n, 0.95))
            .collect();
        for rate in (1..100).map(|percent| f64::from(percent) / 100.0) {
            let mut chance = (1.0 - rate).powi(n as i32);
            let mut coverage = 0.0;
            for (k, interval) in (0..=n).zip(&intervals) {
                if interval.lo <= rate && rate <= interval.hi {
                    coverage += chance;
                }
                chance *= (n - k) as f64 / (k + 1) as f64 * rate / (1.0 - rate);
            }
            assert!(coverage >= 0.95 - 1e-9, "{n} at {rate}: {coverage}");
        }
    }
}

#[test]
fn slope_intervals_cover_93_to_97_in_100() {
    let mut rng = ChaCha8Rng::seed_from_u64(8);
    let runs = 2000;
    let held = (0..runs).filter(|_| {
        let tips: Vec<Series> = (0..3)
            .map(|_| {
                let level = 5.0 * normal(&mut rng);
                (1..=12)
                    .map(|x| (f64::from(x), level - 0.4 * f64::from(x) + normal(&mut rng)))
                    .collect()
            })
            .collect();
        let interval = stats::theil_sen(&tips, 0.95).unwrap().interval;
        interval.lo <= -0.4 && interval.hi >= -0.4
    });
    let coverage = held.count() as f64 / f64::from(runs);
    assert!((0.93..=0.97).contains(&coverage), "{coverage}");
}
