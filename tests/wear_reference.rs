//! The line through tips, its errors and the number of tips against SciPy 1.17.1, NumPy 2.4.6 and statsmodels 0.15.0
//! (tests/reference/wear.py).

use serde_json::Value;
use tipstrike::stats::{Series, TipValue, median, tip_evidence, tip_line, tips_size};

/// Largest relative difference allowed: both sides are exact but for rounding.
const CLOSE: f64 = 1e-8;

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/wear.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

#[track_caller]
fn same(what: &str, index: usize, ours: f64, theirs: &Value) {
    let theirs = number(theirs);
    let close = (ours - theirs).abs() <= CLOSE * theirs.abs().max(1e-3);
    assert!(close, "table {index}, {what}: {ours} here, {theirs} there");
}

fn tips(table: &Value) -> Vec<Series> {
    let tips = table["tips"].as_array().unwrap().iter();
    let points = |tip: &Value| -> Series {
        let points = tip.as_array().unwrap().iter();
        points.map(|p| (number(&p[0]), number(&p[1]))).collect()
    };
    tips.map(points).collect()
}

#[test]
fn the_line_of_the_usual_tip_and_its_errors_agree_with_scipy() {
    let reference = reference();
    let tables = reference["tables"].as_array().unwrap();
    let mut bounded = 0;
    for (i, table) in tables.iter().enumerate() {
        let line = tip_line(&tips(table)).unwrap();
        same("intercept", i, line.intercept, &table["line"][0]);
        same("slope", i, line.slope, &table["line"][1]);
        same("p", i, line.p, &table["p"]);
        same("correlation", i, line.correlation, &table["correlation"]);
        let slope = line.slope_interval(0.95);
        same("slope's lower end", i, slope.lo, &table["slope"][0]);
        same("slope's upper end", i, slope.hi, &table["slope"][1]);
        let met = line.meets(65.0, 0.95).unwrap();
        same("meeting", i, met.at, &table["at"]);
        assert_eq!(
            met.interval.is_none(),
            table["interval"].is_null(),
            "table {i}"
        );
        if let Some(ends) = met.interval {
            bounded += 1;
            same("its lower end", i, ends.lo, &table["interval"][0]);
            same("its upper end", i, ends.hi, &table["interval"][1]);
        }
    }
    assert!(tables.len() == 36 && bounded > 20, "{bounded}");
}

/// REML with a random level and slope estimates the same line from the same tips; least squares against Theil–Sen differ by
/// a part of the standard error. REML's own errors wander with four to six tips, so the usual ratio to ours is held.
#[test]
fn the_slope_and_its_error_are_those_of_a_mixed_model() {
    let reference = reference();
    let mut ratios = Vec::new();
    for (i, table) in reference["tables"].as_array().unwrap().iter().enumerate() {
        let Some(mixed) = table["mixed"].as_array() else {
            continue;
        };
        let (slope, error) = (number(&mixed[0]), number(&mixed[1]));
        let series = tips(table);
        let line = tip_line(&series).unwrap();
        let ours = (line.slope_interval(0.95).hi - line.slope) / T_975[series.len() - 4];
        let apart = (line.slope - slope).abs();
        assert!(
            apart < error.max(ours),
            "table {i}: {} {slope} ± {error}",
            line.slope
        );
        ratios.push(ours / error);
    }
    assert_eq!(ratios.len(), 6, "those that REML settles");
    let usual = median(&ratios).unwrap();
    assert!((0.8..=1.25).contains(&usual), "{usual}: {ratios:?}");
}

/// GEE with a level of its own a tip takes the mean of the tips' least-squares slopes where the tips are of one length; ours
/// are Theil–Sen slopes, so the two differ by a part of their errors, and the usual ratio of the errors is held.
#[test]
fn the_slope_and_its_error_are_those_of_gee() {
    let reference = reference();
    let mut ratios = Vec::new();
    for (i, table) in reference["tables"].as_array().unwrap().iter().enumerate() {
        let Some(gee) = table["gee"].as_array() else {
            continue;
        };
        let (slope, error) = (number(&gee[0]), number(&gee[1]));
        let series = tips(table);
        let line = tip_line(&series).unwrap();
        let ours = (line.slope_interval(0.95).hi - line.slope) / T_975[series.len() - 4];
        let apart = (line.slope - slope).abs();
        assert!(
            apart < error.max(ours),
            "table {i}: {} {slope} ± {error}",
            line.slope
        );
        ratios.push(ours / error);
    }
    assert_eq!(
        ratios.len(),
        15,
        "those of one length with four tips or more"
    );
    let usual = median(&ratios).unwrap();
    assert!((0.8..=1.25).contains(&usual), "{usual}: {ratios:?}");
}

/// SciPy's t at 0.975 with 3, 4, 5 degrees of freedom: of four, five, six tips.
const T_975: [f64; 3] = [3.182_446, 2.776_445, 2.570_582];

#[test]
fn the_tips_planned_are_those_of_the_noncentral_t_or_one_more() {
    for size in reference()["sizes"].as_array().unwrap() {
        let (level, variance, exact) = (number(&size[0]), number(&size[1]), number(&size[2]));
        let planned = tips_size(variance, 1.0, level, 0.8).ceil();
        assert!(
            planned == exact || planned == exact + 1.0,
            "{size}: {planned}"
        );
    }
}

/// Student's (1908) sleep data as two samples, t = −1.8608.
#[test]
fn the_evidence_of_the_sleep_data_is_the_integral_over_its_effect() {
    let one = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    let two = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    let of = |group: usize, values: &[f64]| -> Vec<TipValue> {
        let tip = |(tip, value): (usize, &f64)| TipValue {
            group,
            tip: 10 * group + tip,
            block: 0,
            value: *value,
            starts: 1,
        };
        values.iter().enumerate().map(tip).collect()
    };
    let tips = [of(0, &one), of(1, &two)].concat();
    let found = tip_evidence(&tips, 0, 1, 0.0).unwrap();
    same("e-value", 0, found.e(), &reference()["sleep_e"]);
}
