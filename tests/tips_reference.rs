//! Comparisons by tips against statsmodels 0.15.0: MixedLM (REML), GEE, and OLS with HC2 errors (tests/reference/tips.py).
//!
//! Where designs are balanced these methods must give the same numbers; where they are not, HC2 on the tips' means must,
//! and ours lies between GEE's robust error, which is too small with few tips, and its bias-reduced one, which is too large.

use serde_json::Value;
use tipstrike::stats::{TipStart, TipTrial, median, tip_rates, tip_shift, tip_values};

/// Largest relative difference of what is exact but for rounding.
const CLOSE: f64 = 1e-9;

/// Of what an optimiser found: the top of REML's likelihood is flat, which leaves the error's fourth digit open.
const SEARCHED: f64 = 5e-4;

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/tips.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

#[track_caller]
fn same(what: &str, index: usize, ours: f64, theirs: f64, tolerance: f64) {
    let close = (ours - theirs).abs() <= tolerance * theirs.abs().max(1e-3);
    assert!(close, "table {index}, {what}: {ours} here, {theirs} there");
}

fn starts(table: &Value) -> Vec<TipStart> {
    let start = |row: &Value| {
        let row = numbers(row);
        TipStart {
            group: row[0] as usize,
            tip: row[1] as usize,
            coupon: row[2] as usize,
            value: row[3],
        }
    };
    table["starts"]
        .as_array()
        .unwrap()
        .iter()
        .map(start)
        .collect()
}

#[test]
fn the_difference_of_grinds_and_its_error_are_those_of_statsmodels() {
    let reference = reference();
    let tables = reference["tables"].as_array().unwrap();
    let (mut mixed, mut blocks) = (0, 0);
    for (i, table) in tables.iter().enumerate() {
        let found = tip_shift(&tip_values(&starts(table)).tips, 0, 1).unwrap();
        let se = found.spread.unwrap().se;
        let [shift, robust, reduced] = numbers(&table["gee"])[..] else {
            panic!("three numbers of GEE");
        };
        same("difference by GEE", i, found.shift, shift, CLOSE);
        if table["kind"] == "blocks" {
            blocks += 1;
            assert!(
                robust < se && se < reduced,
                "table {i}: {robust} {se} {reduced}"
            );
        } else {
            // T tips of each grind: the robust error divides by T where an unbiased one divides by T − 1.
            let tips = found.tips[0] as f64;
            let unbiased = (tips / (tips - 1.0)).sqrt();
            same("error by GEE", i, se, robust * unbiased, CLOSE);
            same("reduced error by GEE", i, se, reduced / unbiased, CLOSE);
        }
        if let Some([shift, error]) = table["mixed"].as_array().map(Vec::as_slice) {
            mixed += 1;
            let [shift, error] = [shift, error].map(|v| v.as_f64().unwrap());
            same("difference by REML", i, found.shift, shift, SEARCHED);
            same("error by REML", i, se, error, SEARCHED);
        }
        if !table["hc2"].is_null() {
            let least_squares = numbers(&table["hc2"]);
            same("difference by OLS", i, found.shift, least_squares[0], CLOSE);
            same("HC2 error", i, se, least_squares[1], CLOSE);
        }
    }
    assert_eq!((tables.len(), blocks), (36, 12));
    assert!(mixed >= 20, "{mixed} that REML settles");
}

/// With equal numbers of starts on a tip GEE's difference of rates is ours. Its errors know the spread between these tips
/// alone; ours lean on a usual share of variance, so the usual ratio is held, and none is far smaller.
#[test]
fn the_difference_of_rates_is_that_of_gee_and_its_interval_no_narrower_in_the_usual_case() {
    let reference = reference();
    let mut ratios = Vec::new();
    for (i, table) in reference["rates"].as_array().unwrap().iter().enumerate() {
        let starts = table["starts"].as_u64().unwrap() as usize;
        let tips = table["tips"].as_array().unwrap().iter();
        let trials: Vec<TipTrial> = tips
            .map(|tip| TipTrial {
                group: tip[0].as_u64().unwrap() as usize,
                block: 0,
                events: tip[1].as_u64().unwrap() as usize,
                starts,
            })
            .collect();
        let found = tip_rates(&trials, 0, 1, 0.95).unwrap();
        let gee = numbers(&table["gee"]);
        same("difference", i, found.rate_b - found.rate_a, gee[0], CLOSE);
        // 1.959964: the normal quantile that GEE's own interval takes.
        let half = (found.interval.hi - found.interval.lo) / 2.0;
        ratios.push(half / (1.959_964 * gee[2]));
    }
    let usual = median(&ratios).unwrap();
    assert_eq!(ratios.len(), 12);
    assert!((0.95..=1.35).contains(&usual), "{usual}: {ratios:?}");
    assert!(ratios.iter().all(|ratio| *ratio > 0.75), "{ratios:?}");
}
