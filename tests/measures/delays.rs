//! How far the channels lie apart in time, on strikes that were made.

use tipstrike::job::{Context, Logger, Measuring};
use tipstrike::recording::Recording;
use tipstrike::start::skew;
use tipstrike::start::{Skew, find};

use super::{RATE, near, recording};

/// Three strikes: the voltage falls from 70 V at once, 80 A flow `late_s` after that.
fn struck(late_s: f64, open_v: f64) -> Option<Skew> {
    let on = |t: f64| (0.5..1.5).contains(&(t % 2.0));
    let volts = move |t: f64| match t {
        t if on(t) => 12.0,
        t if (0.4..0.5).contains(&(t % 2.0)) => open_v,
        _ => 0.0,
    };
    let amps = move |t: f64| {
        if t > late_s && on(t - late_s) {
            80.0
        } else {
            0.0
        }
    };
    let made = recording(6.0, amps, volts);
    let measuring = Measuring::default();
    let starts = find(&made, &measuring, &Context::default()).unwrap();
    skew(&made, &measuring, &starts).unwrap()
}

/// docs/measures.md: half a millisecond and two samples are allowed, a late current besides twice the sample it takes to rise.
#[test]
fn a_delay_between_the_channels_is_told_in_both_directions() {
    for late_s in [3e-3, -3e-3] {
        let found = struck(late_s, 70.0).unwrap();
        near(Some(found.current_late_s), late_s, 1e-6);
        let samples = if late_s > 0.0 { 4.0 } else { 2.0 };
        near(Some(found.allowed_s), 0.5e-3 + samples / RATE, 1e-9);
        assert_eq!(found.strikes, 3);
        assert!(found.finding().is_some());
    }
    let together = struck(0.0, 70.0).unwrap();
    near(Some(together.current_late_s), 0.0, 1e-6);
    assert_eq!(together.finding(), None);
    assert_eq!(struck(3e-3, 0.0), None, "no voltage that could fall");
}

/// Strikes less than 40 ms from either end of the recording do not count, and delays of more than 20 ms are not looked for.
#[test]
fn a_strike_counts_for_the_delay_where_it_stands_free() {
    let seen = |begin: f64, end: f64, late_s: f64| {
        let on = |t: f64| t >= begin;
        let volts = |t: f64| if on(t) { 12.0 } else { 70.0 };
        let amps = |t: f64| if on(t - late_s) { 80.0 } else { 0.0 };
        let made = recording(end, amps, volts);
        let measuring = Measuring::default();
        let starts = find(&made, &measuring, &Context::default()).unwrap();
        assert_eq!(starts.len(), 1);
        skew(&made, &measuring, &starts)
            .unwrap()
            .map(|s| (s.strikes, s.current_late_s))
    };
    let found = seen(0.1, 0.2, 0.019).unwrap();
    assert_eq!(found.0, 1);
    near(Some(found.1), 0.019, 1e-4);
    assert_eq!(seen(0.1, 0.2, 0.022), None);
    assert_eq!(seen(0.041, 0.2, 0.0).map(|s| s.0), Some(1));
    assert_eq!(seen(0.039, 0.2, 0.0), None);
    assert_eq!(seen(0.1, 0.142, 0.0).map(|s| s.0), Some(1));
    assert_eq!(seen(0.1, 0.138, 0.0), None);
}

/// An arc that stutters, half a millisecond on and half a millisecond off, begins once. After a gap of the recording time goes on.
#[test]
fn a_stuttering_strike_and_one_after_a_gap_count_for_the_delay() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("gap.csv");
    let begins = [1.0, 2.9];
    let rows = (0..72_000)
        .filter(|k| !(40_000..52_000).contains(k))
        .map(|k| {
            let t = f64::from(k) / 20_000.0;
            let after = begins
                .iter()
                .map(|begin| t - begin)
                .find(|after| (-0.1..0.6).contains(after));
            let (amps, volts) = match after {
                None => (0.0, 0.0),
                Some(after) if after < 0.0 => (0.0, 70.0),
                Some(after) if after < 0.06 && (after * 1000.0).fract() > 0.5 => (0.0, 12.0),
                Some(_) => (80.0, 12.0),
            };
            format!("{t:.5},{amps},{volts}\n")
        });
    let rows: String = rows.collect();
    std::fs::write(&path, format!("time_s,current_a,voltage_v\n{rows}")).unwrap();
    let made = Recording::open(&path, &Logger::default()).unwrap();
    let measuring = Measuring::default();
    let starts = find(&made, &measuring, &Context::default()).unwrap();
    let found = skew(&made, &measuring, &starts).unwrap().unwrap();
    assert_eq!(found.strikes, 2);
    near(Some(found.current_late_s), 0.0, 1e-4);
}

/// A late current that takes five samples from half the conduct level of 1 A to the whole may be late by ten of them besides.
#[test]
fn a_current_that_rises_slowly_may_come_late() {
    let on = |t: f64| (0.5..1.5).contains(&t);
    let volts = |t: f64| match t {
        t if on(t) => 12.0,
        t if t > 0.3 && t < 1.5 => 70.0,
        _ => 0.0,
    };
    let amps = |t: f64| match t - 0.503 {
        after if after >= 0.0 && on(t) => (0.1 * after * RATE + 0.05).min(80.0),
        _ => 0.0,
    };
    let made = recording(2.0, amps, volts);
    let measuring = Measuring::default();
    let starts = find(&made, &measuring, &Context::default()).unwrap();
    let found = skew(&made, &measuring, &starts).unwrap().unwrap();
    near(
        Some(found.allowed_s),
        0.5e-3 + (2.0 + 2.0 * 6.0) / RATE,
        1e-9,
    );
    assert!(found.finding().is_some());
}

/// By touch the voltage is gone before the machine answers: that the current waits is no fault, where most strikes are such.
#[test]
fn by_touch_the_current_may_wait() {
    let seen = |opened: usize| {
        let on = |t: f64| t < 12.0 && (0.5..1.5).contains(&(t % 2.0));
        // A voltage of 11 V stands before a touch, 70 V before a strike from the open circuit.
        let before = move |t: f64| {
            if ((t / 2.0) as usize) < opened {
                70.0
            } else {
                11.0
            }
        };
        let volts = move |t: f64| match t {
            t if on(t) => 2.0 + if t % 2.0 > 0.6 { 10.0 } else { 0.0 },
            t if (0.4..0.5).contains(&(t % 2.0)) => before(t),
            _ => 0.0,
        };
        let amps = move |t: f64| if t > 3e-3 && on(t - 3e-3) { 80.0 } else { 0.0 };
        let made = recording(12.0, amps, volts);
        let measuring = Measuring::default();
        let starts = find(&made, &measuring, &Context::default()).unwrap();
        assert_eq!(starts.len(), 6);
        skew(&made, &measuring, &starts)
            .unwrap()
            .unwrap()
            .finding()
            .is_some()
    };
    assert_eq!([0, 2, 3, 6].map(seen), [false, false, true, true]);
}
