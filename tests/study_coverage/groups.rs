//! Several grinds at once, and unequal numbers of tips: how often `compare` tells equal grinds apart.
//!
//! The long form (`TIPSTRIKE_LONG=1`) draws ten times as often and prints each figure.

use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use tipstrike::score::StartRow;
use tipstrike::study::{CompareOptions, Comparison, PairVerdict, Withheld, compare_rows};

use crate::long_form::long;
use crate::study_support::{normal, on_tip};

fn runs(short: usize) -> usize {
    if long() { 10 * short } else { short }
}

/// One grind: its tips, how far it lies from the others and how much its tips and starts scatter, in standard deviations
/// of single starts.
#[derive(Debug, Clone, Copy)]
struct Grind {
    tips: usize,
    shift: f64,
    spread: f64,
}

const fn equal(tips: usize) -> Grind {
    Grind {
        tips,
        shift: 0.0,
        spread: 1.0,
    }
}

/// Starts on a tip.
const STARTS: u32 = 4;

/// Scores about 60 with deviation 8, tips shared out over two coupons, `share` of the variance between tips; cut off at
/// 100 where `centre` is near it.
fn struck(rng: &mut ChaCha8Rng, grinds: &[Grind], share: f64, centre: f64) -> Vec<StartRow> {
    let mut rows = Vec::new();
    for (grind, name) in grinds.iter().zip(["A", "B", "C"]) {
        for tip in 0..grind.tips {
            let own = share.sqrt() * normal(rng);
            for _ in 0..STARTS {
                let z = own + (1.0 - share).sqrt() * normal(rng);
                let score = centre + 8.0 * (grind.shift + grind.spread * z);
                let (tip, coupon) = (format!("{name}{tip}"), format!("L{}", tip % 2));
                let number = rows.len() as u32 + 1;
                rows.push(on_tip(name, &tip, &coupon, number, score.clamp(0.0, 100.0)));
            }
        }
    }
    rows
}

fn compared(rows: &[StartRow]) -> Comparison {
    let options = CompareOptions {
        measures: vec!["score".into()],
        ..CompareOptions::default()
    };
    compare_rows(rows, &options).unwrap()
}

fn is_told(verdict: PairVerdict) -> bool {
    matches!(verdict, PairVerdict::ABetter | PairVerdict::BBetter)
}

/// Parts of the draws in which each of two things holds.
fn parts(
    seed: u64,
    draws: usize,
    draw: impl Fn(&mut ChaCha8Rng) -> Vec<StartRow>,
    hold: impl Fn(&Comparison) -> [bool; 2],
) -> [f64; 2] {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut held = [0, 0];
    for _ in 0..draws {
        let found = hold(&compared(&draw(&mut rng)));
        held.iter_mut()
            .zip(found)
            .for_each(|(n, held)| *n += usize::from(held));
    }
    held.map(|n| n as f64 / draws as f64)
}

/// Three standard errors of so many draws at 5 in 100.
fn noise(draws: usize) -> f64 {
    3.0 * (0.05 * 0.95 / draws as f64).sqrt()
}

#[test]
fn three_equal_grinds_are_told_apart_anywhere_in_five_of_100() {
    let draws = runs(200);
    let designs = [
        (2, 0.2, 60.0),
        (3, 0.0, 60.0),
        (4, 0.5, 60.0),
        (6, 0.2, 60.0),
        (6, 0.1, 97.0),
    ];
    for (seed, (tips, share, centre)) in (2000..).zip(designs) {
        let draw = |rng: &mut ChaCha8Rng| struck(rng, &[equal(tips); 3], share, centre);
        let apart = |c: &Comparison| c.pairs.iter().any(|pair| is_told(pair.verdict));
        let unlike = |c: &Comparison| c.overall.iter().any(|all| all.p < 0.05);
        let [told, overall] = parts(seed, draws, draw, |c| [apart(c), unlike(c)]);
        if long() {
            println!(
                "three of {tips} tips, share {share}, about {centre}: any pair {:.1}, Kruskal-Wallis {:.1}",
                100.0 * told,
                100.0 * overall
            );
        }
        assert!(told <= 0.065 + noise(draws), "{tips}, {share}: {told}");
        assert!(
            overall <= 0.065 + noise(draws),
            "{tips}, {share}: {overall}"
        );
    }
}

/// Holm's promise: however far the third lies off, the two that are equal are told apart no more often.
#[test]
fn a_third_grind_that_differs_does_not_make_the_other_two_differ() {
    let draws = runs(200);
    for (seed, tips) in [(2010, 3), (2011, 6)] {
        let far = Grind {
            shift: -2.5,
            ..equal(tips)
        };
        let draw = |rng: &mut ChaCha8Rng| struck(rng, &[equal(tips), equal(tips), far], 0.2, 60.0);
        let two = |c: &Comparison, b: &str| {
            let pair = c.pairs.iter().find(|pair| pair.a == "A" && pair.b == b);
            is_told(pair.unwrap().verdict)
        };
        let [wrong, right] = parts(seed, draws, draw, |c| [two(c, "B"), two(c, "C")]);
        if long() {
            println!(
                "the third differs, {tips} tips: equal two {:.1}, the third {:.1}",
                100.0 * wrong,
                100.0 * right
            );
        }
        assert!(wrong <= 0.065 + noise(draws), "{tips}: {wrong}");
        // Two and a half deviations stand out with six tips each.
        assert!(tips < 6 || right > 0.9, "{tips}: {right}");
    }
}

/// Equal spread holds whatever the numbers; with three times the spread in the smaller group three tips against more are
/// told apart in 7 of 100 (a warning says so) and two against more would be in 9: they get no verdict.
#[test]
fn unequal_numbers_of_tips_hold_or_get_no_verdict() {
    let draws = runs(300);
    for (seed, (many, few), spread, most) in [
        (2020, (4, 2), 1.0, 0.0),
        (2021, (4, 2), 3.0, 0.0),
        (2022, (6, 3), 1.0, 0.065),
        (2023, (6, 3), 3.0, 0.085),
        (2024, (8, 4), 1.0, 0.065),
        (2025, (8, 4), 3.0, 0.070),
    ] {
        let grinds = [
            equal(many),
            Grind {
                spread,
                ..equal(few)
            },
        ];
        let draw = |rng: &mut ChaCha8Rng| struck(rng, &grinds, 0.2, 50.0);
        let told = |c: &Comparison| is_told(c.pairs[0].verdict);
        let [told, _] = parts(seed, draws, draw, |c| [told(c); 2]);
        if long() {
            println!(
                "{many} tips against {few} with spread {spread}: {:.1}",
                100.0 * told
            );
        }
        let room = if most > 0.0 { noise(draws) } else { 0.0 };
        assert!(told <= most + room, "{many}, {few}, {spread}: {told}");
    }
    let four_two = struck(
        &mut ChaCha8Rng::seed_from_u64(2030),
        &[
            equal(4),
            Grind {
                shift: 9.0,
                ..equal(2)
            },
        ],
        0.2,
        20.0,
    );
    let pair = &compared(&four_two).pairs[0];
    assert_eq!(pair.withheld, Some(Withheld::UnequalTips), "{pair:?}");
}
