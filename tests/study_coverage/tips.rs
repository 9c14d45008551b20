//! Comparisons by tips: how often equal grinds are told apart, and how often the interval holds the truth.
//!
//! The long form (`TIPSTRIKE_LONG=1`) draws six times as often, on more designs, and prints each figure.

use rand::RngExt;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use tipstrike::stats;
use tipstrike::stats::{TipStart, TipTrial};

use crate::long_form::long;
use crate::study_support::normal;

/// What starts look like.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Shape {
    /// Normal, as they are.
    Normal,
    /// Lognormal with σ 0.6, compared by logarithms, as times are.
    Skewed,
    /// A score: normal about 95 with deviation 12, cut off at 100.
    Ceiling,
}

impl Shape {
    /// A start from the deviation of its tip and its own, both scaled to variance 1 together.
    fn value(self, z: f64) -> f64 {
        match self {
            Shape::Normal => z,
            Shape::Skewed => (4.0 + 0.6 * z).exp().ln(),
            Shape::Ceiling => (95.0 + 12.0 * z).min(100.0),
        }
    }
}

/// Tips of each grind on each coupon, starts a tip, share of variance between tips.
#[derive(Debug, Clone, Copy)]
struct Design {
    tips: [usize; 2],
    coupons: usize,
    starts: usize,
    share: f64,
    shape: Shape,
    /// Whether each tip strikes on all coupons.
    crossed: bool,
}

fn draw(rng: &mut ChaCha8Rng, design: Design, shift: f64) -> Vec<TipStart> {
    let mut all = Vec::new();
    let mut tip = 0;
    let levels: Vec<f64> = (0..design.coupons).map(|_| normal(rng)).collect();
    for group in 0..2 {
        for k in 0..design.tips[group] {
            let own = design.share.sqrt() * normal(rng);
            for start in 0..design.starts {
                let coupon = if design.crossed { start } else { k } % design.coupons;
                // A ceiling shows where a shift would not: the coupons of a score are alike.
                let level = if design.shape == Shape::Ceiling {
                    0.0
                } else {
                    levels[coupon]
                };
                let z = own + (1.0 - design.share).sqrt() * normal(rng);
                let value = design.shape.value(z + level + shift * group as f64);
                all.push(TipStart {
                    group,
                    tip,
                    coupon,
                    value,
                });
            }
            tip += 1;
        }
    }
    all
}

/// Parts of `runs` in which grinds that differ by `shift` are told apart, and in which the interval holds `truth`.
fn rates(seed: u64, runs: usize, design: Design, shift: f64, truth: f64) -> (f64, f64) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut told, mut held) = (0, 0);
    for _ in 0..runs {
        let values = stats::tip_values(&draw(&mut rng, design, shift));
        let found = stats::tip_shift(&values.tips, 0, 1).unwrap();
        // Without a spread there is no verdict, and no interval that could miss.
        let Some(spread) = found.spread else {
            held += 1;
            continue;
        };
        let p = spread.p(found.shift);
        told += usize::from(p < 0.05);
        let interval = spread.interval(found.shift, 0.95);
        held += usize::from(interval.lo <= truth && truth <= interval.hi);
    }
    (told as f64 / runs as f64, held as f64 / runs as f64)
}

fn designs() -> Vec<Design> {
    let mut designs = Vec::new();
    let (tips, starts): (&[usize], &[usize]) = match long() {
        true => (&[2, 3, 4, 6, 10], &[2, 5, 10]),
        false => (&[2, 4, 10], &[2, 10]),
    };
    for shape in [Shape::Normal, Shape::Skewed, Shape::Ceiling] {
        for share in [0.0, 0.1, 0.2, 0.5] {
            for &tips in tips {
                for &starts in starts {
                    for (coupons, crossed) in [(1, false), (2, false), (2, true), (4, false)] {
                        let whole = tips >= coupons || crossed;
                        let wanted = long() || (tips + starts + coupons) % 3 == 0;
                        if whole && wanted {
                            designs.push(Design {
                                tips: [tips; 2],
                                coupons,
                                starts,
                                share,
                                shape,
                                crossed,
                            });
                        }
                    }
                }
            }
        }
    }
    designs
}

/// Type I error 5 ± 1.5 of 100 and coverage 93 to 97, with three standard errors of the draws on top. What nothing can
/// hold (docs/statistics.md) is not asked: scores at a ceiling on two or three tips, where both only must not be worse
/// than the promise on the side of false verdicts.
#[test]
fn equal_grinds_are_told_apart_in_five_of_100_whatever_tips_share() {
    let runs = if long() { 3000 } else { 500 };
    let noise = 3.0 * (0.05 * 0.95 / runs as f64).sqrt();
    let mut worst = [1.0_f64, 0.0];
    for (seed, design) in designs().into_iter().enumerate() {
        let (told, held) = rates(100 + seed as u64, runs, design, 0.0, 0.0);
        if long() {
            println!(
                "{design:?}: told apart {:.1}, held {:.1}",
                100.0 * told,
                100.0 * held
            );
        }
        worst = [worst[0].min(told), worst[1].max(told)];
        assert!(
            told <= 0.065 + noise && 1.0 - held <= 0.07 + noise,
            "{design:?}: {told}, {held}"
        );
        let few = design.tips[0] < 4 || design.tips[0] < 2 * design.coupons;
        assert!(few || told >= 0.035 - noise, "{design:?}: {told}");
    }
    if long() {
        println!(
            "least {:.1}, most {:.1}",
            100.0 * worst[0],
            100.0 * worst[1]
        );
    }
}

/// Power for a shift of one standard deviation of single starts, three starts a tip, a fifth of the variance between tips:
/// within 5 points of Student's t with the same tips, by statsmodels 0.15.0, `TTestIndPower().power(1/√0.4667, T, 0.05)`.
#[test]
fn the_power_is_near_that_of_students_t() {
    let runs = if long() { 20_000 } else { 1500 };
    for (tips, expected) in [(2, 0.144), (3, 0.282), (4, 0.413), (6, 0.629), (10, 0.872)] {
        let design = Design {
            tips: [tips; 2],
            coupons: 1,
            starts: 3,
            share: 0.2,
            shape: Shape::Normal,
            crossed: false,
        };
        let (told, held) = rates(700 + tips as u64, runs, design, SHIFT, SHIFT);
        if long() {
            println!(
                "{tips} tips: power {:.1}, held {:.1}",
                100.0 * told,
                100.0 * held
            );
        }
        assert!((told - expected).abs() < 0.05, "{tips}: {told}, {expected}");
        assert!((0.93..=0.975).contains(&held), "{tips}: {held}");
    }
}

/// One standard deviation of single starts.
const SHIFT: f64 = 1.0;

/// [`stats::tips_size`] against simulation: at least 75 of the 80 in 100 it plans for, and no more than a tip too many.
#[test]
fn the_number_of_tips_planned_has_the_power_it_promises() {
    let runs = if long() { 5000 } else { 1000 };
    let designs = [
        (3, 0.0, 1.0),
        (3, 0.2, 1.0),
        (5, 0.5, 1.0),
        (5, 0.2, 1.5),
        (10, 0.1, 0.5),
    ];
    for (starts, share, shift) in designs {
        let variance = share + (1.0 - share) / starts as f64;
        let tips = stats::tips_size(variance, shift, 0.95, 0.8).ceil() as usize;
        let power = |tips: usize| {
            let design = Design {
                tips: [tips; 2],
                coupons: 1,
                starts,
                share,
                shape: Shape::Normal,
                crossed: false,
            };
            rates(900 + starts as u64, runs, design, shift, shift).0
        };
        let (planned, one_less) = (power(tips), power(tips - 1));
        if long() {
            println!(
                "{tips} tips of {starts} starts, share {share}, shift {shift}: power {planned:.3}"
            );
        }
        assert!(
            planned >= 0.75,
            "{tips} tips of {starts}, {share}, {shift}: {planned}"
        );
        assert!(
            one_less < 0.86,
            "a tip less of {starts}, {share}, {shift}: {one_less}"
        );
    }
}

/// A rate of a tip about `rate`, so that the share of variance between tips is `share`: a beta distribution, drawn as
/// its best of uniform order (Jöhnk 1964).
fn tip_rate(rng: &mut ChaCha8Rng, rate: f64, share: f64) -> f64 {
    if share == 0.0 {
        return rate;
    }
    let size = 1.0 / share - 1.0;
    let (a, b) = (rate * size, (1.0 - rate) * size);
    loop {
        let (x, y) = (
            rng.random::<f64>().powf(1.0 / a),
            rng.random::<f64>().powf(1.0 / b),
        );
        if x + y <= 1.0 && x + y > 0.0 {
            return x / (x + y);
        }
    }
}

/// Rates: equal grinds told apart in at most 6.5 of 100 for shares up to 0.2, the interval holding in 93 of 100 and more.
#[test]
fn rates_hold_for_shares_up_to_a_fifth() {
    let runs = if long() { 5000 } else { 600 };
    let noise = 3.0 * (0.05 * 0.95 / runs as f64).sqrt();
    for (seed, (tips, starts)) in [(3, 5), (5, 4), (6, 10), (10, 3)].into_iter().enumerate() {
        for (step, share) in [0.0, 0.1, 0.2].into_iter().enumerate() {
            for rate in [0.1, 0.3] {
                let mut rng = ChaCha8Rng::seed_from_u64(1100 + 10 * seed as u64 + step as u64);
                let told = (0..runs).filter(|_| {
                    let mut trials = Vec::new();
                    for k in 0..2 * tips {
                        let own = tip_rate(&mut rng, rate, share);
                        let events = (0..starts).filter(|_| rng.random_bool(own)).count();
                        trials.push(TipTrial {
                            group: k % 2,
                            block: 0,
                            events,
                            starts,
                        });
                    }
                    let interval = stats::tip_rates(&trials, 0, 1, 0.95).unwrap().interval;
                    interval.lo > 0.0 || interval.hi < 0.0
                });
                let told = told.count() as f64 / runs as f64;
                if long() {
                    println!(
                        "{tips} tips of {starts}, share {share}, rate {rate}: told apart {:.1}",
                        100.0 * told
                    );
                }
                assert!(
                    told <= 0.065 + noise,
                    "{tips} tips of {starts}, {share}, {rate}: {told}"
                );
            }
        }
    }
}

/// A plug-in number of tips is too few in every other case; `enough` is enough in 80, and the range holds the need in 80.
#[test]
fn the_range_of_tips_needed_holds_the_true_need() {
    let runs = if long() { 20_000 } else { 2000 };
    let mut rng = ChaCha8Rng::seed_from_u64(1300);
    let df = 8.0;
    let truth = stats::tips_size(1.0, 0.8, 0.95, 0.8).ceil() as usize;
    let (mut enough, mut held) = (0, 0);
    for _ in 0..runs {
        let variance = (0..8).map(|_| normal(&mut rng).powi(2)).sum::<f64>() / df;
        let needed = stats::tips_needed(variance, df, 0.8, 0.95, 0.8);
        enough += usize::from(needed.enough >= truth);
        held += usize::from(needed.lo <= truth && truth <= needed.hi);
    }
    let part = |count: usize| count as f64 / runs as f64;
    assert!((0.77..0.85).contains(&part(enough)), "{}", part(enough));
    assert!((0.77..0.87).contains(&part(held)), "{}", part(held));
}
