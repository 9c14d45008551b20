//! Do the intervals cover as often as they say, and the tests err as seldom as they say?
//! Simulations with fixed seeds; where it can be had, the chance is summed exactly instead.

mod study_support;
#[path = "study_coverage/tips.rs"]
mod tips;

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use study_support::{normal, skewed};
use tipstrike::stats;
use tipstrike::stats::{BettingPairs, Blocks, RatesProcess, Series, Tail};

fn values(rng: &mut ChaCha8Rng, n: usize, shift: f64) -> Vec<f64> {
    (0..n).map(|_| skewed(rng) + shift).collect()
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
        (2, 1000, &[(60, 50)]),
        (3, 2000, &[(10, 8), (6, 9), (7, 7)]),
        (4, 2000, &[(5, 5), (5, 5), (5, 5), (5, 5)]),
    ] {
        let coverage = shift_coverage(seed, runs, sizes);
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

/// A score as starts have them: most good, some bad, none over 100.
fn score(rng: &mut ChaCha8Rng) -> f64 {
    if rng.random_bool(0.1) {
        rng.random_range(0.0..50.0)
    } else {
        (82.0 + 10.0 * normal(rng)).clamp(0.0, 100.0)
    }
}

#[test]
fn looking_after_every_start_spoils_the_fixed_test_and_not_the_anytime_one() {
    let mut rng = ChaCha8Rng::seed_from_u64(10);
    let (runs, starts) = (600, 80);
    let (mut fixed, mut anytime, mut betting) = (0, 0, 0);
    for _ in 0..runs {
        let mut rough = [0_u64; 2];
        let mut process = RatesProcess::default();
        let mut scores = BettingPairs::new(0.95);
        let (mut fixed_cried, mut betting_cried) = (false, false);
        for n in 1..=starts {
            for (sample, count) in rough.iter_mut().enumerate() {
                let is_rough = rng.random_bool(0.3);
                *count += u64::from(is_rough);
                process.add(0, sample, is_rough);
                scores.add(0, sample, score(&mut rng) / 100.0);
            }
            fixed_cried |= stats::fisher((rough[0], n), (rough[1], n), Tail::Both) < 0.05;
            if n % 8 == 0 {
                let interval = scores.interval();
                betting_cried |= interval.lo > 0.0 || interval.hi < 0.0;
            }
        }
        fixed += u32::from(fixed_cried);
        betting += u32::from(betting_cried);
        // The largest e-value so far is what looking after every start would have seen.
        anytime += u32::from(process.p() < 0.05);
    }
    let part = |cried: u32| f64::from(cried) / f64::from(runs);
    assert!(part(fixed) > 0.10, "fixed test: {}", part(fixed));
    assert!(part(anytime) <= 0.05, "e-process: {}", part(anytime));
    assert!(part(betting) <= 0.05, "betting: {}", part(betting));
}

#[test]
fn the_e_process_finds_a_real_difference_in_rates() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let found = (0..100).filter(|_| {
        let mut process = RatesProcess::default();
        for _ in 0..80 {
            process.add(0, 0, rng.random_bool(0.05));
            process.add(0, 1, rng.random_bool(0.40));
        }
        process.p() < 0.05
    });
    let found = found.count();
    assert!(found > 90, "{found} of 100");
}

#[test]
fn the_betting_interval_holds_the_true_difference_and_narrows() {
    let mut rng = ChaCha8Rng::seed_from_u64(12);
    let mut widths = Vec::new();
    let runs = 200;
    let held = (0..runs).filter(|_| {
        let mut pairs = BettingPairs::new(0.95);
        for _ in 0..100 {
            pairs.add(0, 0, (0.8 + 0.1 * normal(&mut rng)).clamp(0.6, 1.0));
            pairs.add(0, 1, (0.7 + 0.1 * normal(&mut rng)).clamp(0.5, 0.9));
        }
        let interval = pairs.interval();
        widths.push(interval.hi - interval.lo);
        interval.lo <= -0.1 && -0.1 <= interval.hi
    });
    let held = held.count();
    assert!(held as f64 >= 0.95 * f64::from(runs), "{held} of {runs}");
    assert!(widths.iter().all(|w| *w < 0.35), "{widths:?}");
}

#[test]
fn the_rate_sequence_holds_the_rate_at_all_times() {
    let mut rng = ChaCha8Rng::seed_from_u64(13);
    let runs = 400;
    let missed = (0..runs).filter(|_| {
        let mut events = 0;
        (1..=200).any(|n| {
            events += u64::from(rng.random_bool(0.1));
            let interval = stats::rate_sequence(events, n, 0.95);
            interval.lo > 0.1 || interval.hi < 0.1
        })
    });
    let missed = missed.count();
    assert!(
        missed as f64 <= 0.05 * f64::from(runs),
        "{missed} of {runs}"
    );
}
