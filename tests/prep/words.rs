//! What is said of a score, where a turned comparison would say the opposite.

use std::sync::Arc;

use tipstrike::flag::Flag;
use tipstrike::score::explain;
use tipstrike::start::Start;

use super::score::{self, good_start};

#[test]
fn what_made_a_start_rough_or_fair_is_said() {
    let because = |change: fn(&mut Start)| {
        let mut start = good_start();
        change(&mut start);
        let (row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
        explain(&row, &score)[1].clone()
    };
    let one_dropout = because(|s| s.measures.dropouts = Some(1.0));
    assert!(one_dropout.contains("it dropped out (1×)") && !one_dropout.contains("attempts"));
    let three = because(|s| s.measures.attempts = Some(3.0));
    assert!(
        three.contains("3 attempts are more than 2") && !three.contains("dropped"),
        "{three}"
    );
    let two = because(|s| s.measures.attempts = Some(2.0));
    assert!(
        two.contains("it took 2 attempts") && !two.contains("counted"),
        "{two}"
    );
    let uncounted = because(|s| s.measures.dropouts = None);
    assert!(uncounted.contains("could not be counted"), "{uncounted}");
}

#[test]
fn what_a_slow_rate_spoilt_is_named() {
    let spoilt = |process: &str, rise_ms: Option<f64>, ac_hz: Option<f64>| {
        let mut start = good_start();
        start.flags = vec![Flag::SlowRate];
        (start.measures.rise_ms, start.measures.ac_hz) = (rise_ms, ac_hz);
        let (mut row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
        Arc::make_mut(&mut row.sheet).insert("process".to_owned(), process.to_owned());
        explain(&row, &score).pop().unwrap()
    };
    let low = "The sample rate is too low for ";
    assert_eq!(spoilt("dc", None, None), format!("{low}the rise."));
    assert_eq!(
        spoilt("ac", None, None),
        format!("{low}the rise and the measures of AC.")
    );
    assert_eq!(
        spoilt("ac", Some(1.0), None),
        format!("{low}the measures of AC.")
    );
    assert_eq!(
        spoilt("ac", Some(1.0), Some(90.0)),
        format!("{low}the top of the wander band.")
    );
}
