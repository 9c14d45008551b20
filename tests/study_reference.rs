//! The statistics against SciPy 1.17.1 and statsmodels 0.15.0 on 200 random tables, ties and tiny
//! samples included (tests/reference/stats.py).

use serde_json::Value;
use tipstrike::stats;
use tipstrike::stats::{Blocks, Tail};

/// Largest relative difference allowed.
const CLOSE: f64 = 1e-9;

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/stats.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

#[track_caller]
fn same(what: &str, index: usize, ours: f64, theirs: f64) {
    let close = (ours - theirs).abs() <= CLOSE * theirs.abs().max(1e-3);
    assert!(close, "table {index}, {what}: {ours} here, {theirs} there");
}

#[track_caller]
fn all_same(what: &str, index: usize, ours: &[f64], theirs: &Value) {
    let theirs = numbers(theirs);
    assert_eq!(ours.len(), theirs.len(), "table {index}, {what}");
    ours.iter()
        .zip(theirs)
        .for_each(|(&o, t)| same(what, index, o, t));
}

/// Runs the check on every table and gives how many it applied to.
fn every_table(check: impl Fn(usize, &Value) -> bool) -> usize {
    let reference = reference();
    let tables = reference["tables"].as_array().unwrap();
    assert_eq!(tables.len(), 200);
    tables
        .iter()
        .enumerate()
        .filter(|(i, t)| check(*i, t))
        .count()
}

#[test]
fn the_normal_distribution_agrees_with_scipy() {
    let reference = reference();
    for (name, ours) in [
        ("normal_cdf", stats::normal_cdf as fn(f64) -> f64),
        ("normal_quantile", stats::normal_quantile),
    ] {
        for (i, pair) in reference["distributions"][name]
            .as_array()
            .unwrap()
            .iter()
            .enumerate()
        {
            let (x, theirs) = (pair[0].as_f64().unwrap(), pair[1].as_f64().unwrap());
            let close = (ours(x) - theirs).abs() <= 1e-12 * theirs.abs().max(f64::MIN_POSITIVE);
            assert!(
                close || (ours(x) - theirs).abs() < 1e-15,
                "{name} {i}: {} {theirs}",
                ours(x)
            );
        }
    }
}

#[test]
fn rank_tests_and_effects_agree_with_scipy() {
    every_table(|i, table| {
        let groups: Vec<Vec<f64>> = table["data"]["groups"]
            .as_array()
            .unwrap()
            .iter()
            .map(numbers)
            .collect();
        let (a, b) = (&groups[0], &groups[1]);
        let test = stats::mann_whitney(a, b);
        same("U", i, test.u_a, table["u"].as_f64().unwrap());
        same("p", i, test.p, table["p"].as_f64().unwrap());
        let single = Blocks::single(a, b).unwrap();
        let shift = stats::hodges_lehmann(&single, 0.95);
        same("shift", i, shift.estimate, table["shift"].as_f64().unwrap());
        same(
            "delta",
            i,
            stats::cliffs_delta(&single),
            table["cliffs_delta"].as_f64().unwrap(),
        );
        let second = table["data"]["second_block"].as_array().unwrap();
        let blocks = [
            (a.clone(), b.clone()),
            (numbers(&second[0]), numbers(&second[1])),
        ];
        let z = stats::van_elteren(&Blocks::new(blocks).unwrap());
        same(
            "van Elteren z",
            i,
            z,
            table["van_elteren_z"].as_f64().unwrap(),
        );
        true
    });
}

#[test]
fn kruskal_wallis_agrees_with_scipy() {
    let seen = every_table(|i, table| {
        let groups: Vec<Vec<f64>> = table["data"]["groups"]
            .as_array()
            .unwrap()
            .iter()
            .map(numbers)
            .collect();
        let slices: Vec<&[f64]> = groups.iter().map(Vec::as_slice).collect();
        let ours = stats::kruskal_wallis(&slices);
        assert_eq!(ours.is_some(), table.get("kruskal").is_some(), "table {i}");
        let Some((h, p)) = ours else { return false };
        all_same("H and p", i, &[h, p], &table["kruskal"]);
        true
    });
    assert!(seen > 180);
}

#[test]
fn rates_agree_with_scipy_and_statsmodels() {
    every_table(|i, table| {
        let counts: Vec<u64> = numbers(&table["data"]["counts"])
            .iter()
            .map(|&n| n as u64)
            .collect();
        let (a, b) = ((counts[0], counts[1]), (counts[2], counts[3]));
        let ends = |interval: stats::Interval| [interval.lo, interval.hi];
        all_same(
            "Clopper–Pearson",
            i,
            &ends(stats::clopper_pearson(a.0, a.1, 0.95)),
            &table["clopper_pearson"],
        );
        all_same(
            "Wilson",
            i,
            &ends(stats::wilson(a.0, a.1, 0.95)),
            &table["wilson"],
        );
        all_same(
            "Newcombe",
            i,
            &ends(stats::newcombe(a, b, 0.95)),
            &table["newcombe"],
        );
        let fisher = [Tail::Both, Tail::Less, Tail::Greater].map(|tail| stats::fisher(a, b, tail));
        all_same("Fisher", i, &fisher, &table["fisher"]);
        let holm = stats::holm(&numbers(&table["data"]["p_values"]));
        all_same("Holm", i, &holm, &table["holm"]);
        true
    });
}

#[test]
fn trends_agree_with_scipy() {
    let seen = every_table(|i, table| {
        let (x, y) = (numbers(&table["data"]["x"]), numbers(&table["data"]["y"]));
        let series = [x.into_iter().zip(y).collect::<stats::Series>()];
        let kendall = stats::mann_kendall(&series);
        if let Some(p) = table.get("kendall_normal_p") {
            let z = kendall.s / kendall.variance.sqrt();
            same(
                "Kendall, normal",
                i,
                2.0 * stats::normal_cdf(-z.abs()),
                p.as_f64().unwrap(),
            );
        }
        let exact = table.get("kendall_exact_p");
        if let Some(p) = exact {
            same("Kendall, exact", i, kendall.p, p.as_f64().unwrap());
        }
        let fit = stats::theil_sen(&series, 0.95);
        assert_eq!(fit.is_some(), table.get("theil_sen").is_some(), "table {i}");
        let Some(fit) = fit else { return false };
        all_same(
            "Theil–Sen",
            i,
            &[fit.slope, fit.intercept()],
            &table["theil_sen"],
        );
        if let Some(interval) = table.get("theil_sen_interval") {
            all_same(
                "its interval",
                i,
                &[fit.interval.lo, fit.interval.hi],
                interval,
            );
        }
        exact.is_some()
    });
    assert!(seen > 50, "{seen} tables without ties");
}
