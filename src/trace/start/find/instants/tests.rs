//! Edges against a slow twin that counts anew at every place.

use super::*;
use tipstrike_demo::Chance;

fn trace(values: &[f64]) -> Trace {
    Trace {
        rate_hz: 1000.0,
        first: 100,
        amps: values.to_vec(),
        volts: Vec::new(),
    }
}

fn at(values: &[f64], level: f64, up: bool) -> Option<f64> {
    edge(&trace(values), values, level, up).map(|e| e.at)
}

#[test]
fn an_edge_stands_where_the_straight_line_passes_its_level() {
    assert_eq!(at(&[0.0, 0.0, 4.0, 8.0, 8.0], 2.0, true), Some(101.5));
    assert_eq!(at(&[0.0, 0.0, -4.0, -8.0], 1.0, true), Some(101.25));
    assert_eq!(at(&[8.0, 8.0, 6.0, 0.0, 0.0], 3.0, false), Some(102.5));
    // It does not pass it, or never leaves it.
    assert_eq!(at(&[0.0, 0.5, 0.2, 0.1], 2.0, true), None);
    assert_eq!(at(&[8.0, 8.0, 8.0, 8.0], 2.0, true), None);
}

#[test]
fn one_spark_before_an_edge_moves_it_not() {
    let mut values = vec![0.0; 20];
    values.extend([8.0; 20]);
    values[7] = 30.0;
    assert_eq!(at(&values, 4.0, true), Some(119.5));
    // Where more than one in eight is on the wrong side there is no edge.
    (0..6).for_each(|k| values[3 * k] = 30.0);
    assert_eq!(at(&values, 4.0, true), None);
}

/// The slow twin counts the wrong ones at every place anew.
#[test]
fn an_edge_has_the_fewest_samples_on_the_wrong_side() {
    let mut chance = Chance::new(15, 2);
    for _ in 0..500 {
        let (count, step) = (20 + chance.below(60), 2 + chance.below(16));
        let value = |k: usize, noise: f64| if k < step { noise } else { 5.0 + noise };
        let noise = (0..count).map(|_| 1.5 * chance.normals().0);
        let values: Vec<f64> = noise.enumerate().map(|(k, n)| value(k, n)).collect();
        let high = |x: &f64| x.abs() >= 2.5;
        let wrong = |k: usize| {
            let before = values[..k].iter().filter(|x| high(x)).count();
            before + values[k..].iter().filter(|x| !high(x)).count()
        };
        let best = (0..=count).min_by_key(|k| wrong(*k)).unwrap();
        let seen = at(&values, 2.5, true);
        let told = best > 0 && best < count && wrong(best) as f64 <= WRONG_PART * count as f64;
        assert_eq!(seen.is_some(), told);
        if let Some(seen) = seen {
            assert_eq!(seen.ceil(), 100.0 + best as f64, "{values:?}");
        }
    }
}
