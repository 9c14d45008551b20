//! Rise and overshoot of waveforms that are laid out by hand.

use super::*;

/// Frames a millisecond.
const MS: f64 = 10.0;

/// What is seen of a current, given by the milliseconds, that is an arc from 50 ms on.
fn seen(amps: impl Fn(f64) -> f64) -> Onset {
    let trace = Trace {
        rate_hz: 1e3 * MS,
        first: 50,
        amps: (50..3000).map(|n| amps(f64::from(n) / MS)).collect(),
        volts: Vec::new(),
    };
    let window = Span {
        on: 50.0 * MS,
        off: 2500.0,
    };
    onset(&trace, &trace, window, 0.0, None)
}

/// The same of a current given by its samples, that is an arc from the 500th on.
fn seen_at(rate_hz: f64, amps: impl Fn(u32) -> f64) -> Onset {
    let trace = Trace {
        rate_hz,
        first: 0,
        amps: (0..20_000).map(amps).collect(),
        volts: Vec::new(),
    };
    let window = Span {
        on: 500.0,
        off: 20_000.0,
    };
    onset(&trace, &trace, window, 0.0, None)
}

fn rises(onset: Onset) -> (f64, f64) {
    match onset {
        Onset::Rises {
            frames,
            overshoot_pct,
            ..
        } => (frames / MS, overshoot_pct.unwrap()),
        other => panic!("{other:?}"),
    }
}

/// 20 A, for the last 6 ms 40 A, then straight to 100 A in 10 ms: 8 ms lie between 10 % and 90 % of the 60 A. Either way round.
#[test]
fn a_touch_start_rises_from_the_last_five_milliseconds_of_its_touch() {
    for sign in [1.0, -1.0] {
        let amps = |ms: f64| {
            sign * match ms {
                ..20.0 => 0.0,
                20.0..44.0 => 20.0,
                44.0..50.0 => 40.0,
                50.0..60.0 => 40.0 + 6.0 * (ms - 50.0),
                _ => 100.0,
            }
        };
        let (rise, overshoot) = rises(seen(amps));
        assert!((rise - 8.0).abs() < 0.01, "{rise}");
        assert!(overshoot < 0.01, "{overshoot}");
    }
}

/// 1 ms to 80 A, so that three rises of 0.8 ms are less than 5 ms: 1 ms of 88 A after that is an overshoot of 10 % or none, and one
/// sample of them decides nothing.
#[test]
fn after_a_fast_rise_overshoot_is_looked_for_over_five_milliseconds() {
    let bump_at = |at: f64, lasts: f64| {
        let amps = move |ms: f64| match ms {
            _ if (at..at + lasts).contains(&ms) => 88.0,
            ..50.0 => 0.0,
            50.0..51.0 => 80.0 * (ms - 50.0),
            _ => 80.0,
        };
        rises(seen(amps))
    };
    let (rise, overshoot) = bump_at(54.5, 1.0);
    assert!((rise - 0.8).abs() < 0.01, "{rise}");
    assert!((overshoot - 10.0).abs() < 0.1, "{overshoot}");
    for (at, lasts) in [(56.2, 1.0), (54.5, 0.1)] {
        let (_, overshoot) = bump_at(at, lasts);
        assert!(overshoot < 0.01, "{overshoot}");
    }
}

/// 150 A that fall with 0.5 ms on a rise of 1.5 ms: what was taken out may have been a part of the rise. On one of 5 ms it is not.
#[test]
fn a_discharge_as_slow_as_the_rise_leaves_it_unmeasured() {
    let struck = |rise_ms: f64| {
        seen(move |ms| match ms - 50.0 {
            ..0.0 => 0.0,
            t => {
                let arc = 100.0 * (1.0 - (-t / rise_ms * 2.2).exp());
                arc + 150.0 * (-t / 0.5).exp()
            }
        })
    };
    for rise_ms in [0.8, 1.2, 1.5] {
        assert!(!matches!(struck(rise_ms), Onset::Rises { .. }), "{rise_ms}");
    }
    let (rise, overshoot) = rises(struck(5.0));
    assert!((rise - 5.0).abs() < 0.5, "{rise}");
    assert!(overshoot < 2.0, "{overshoot}");
}

/// At 20 kHz the first sample shows 75 A of a spike, and 94 A are reached 0.5 ms later: from where the rise began nothing tells.
#[test]
fn a_spike_on_the_strike_hides_a_short_rise() {
    let amps = |n: u32| match n {
        ..500 => 0.0,
        500 => 75.0,
        _ => (9.4 * f64::from(n - 500)).min(94.0),
    };
    assert_eq!(seen_at(20e3, amps), Onset::Hidden);
}

/// At 50 kHz, 100 A within 0.2 ms with 0.1 ms of 110 A behind: an overshoot or the ignition's spike.
#[test]
fn an_overshoot_as_short_as_a_spike_is_not_told() {
    let amps = |n: u32| match n {
        ..500 => 0.0,
        500..510 => 10.0 * f64::from(n - 500),
        510..515 => 110.0,
        _ => 100.0,
    };
    let Onset::Rises {
        overshoot_pct,
        blurred,
        ..
    } = seen_at(50e3, amps)
    else {
        panic!("it rises");
    };
    assert!(blurred && overshoot_pct.is_none());
}

/// A rise of 0.28 ms whose second-order overshoot is over its level for 0.5 ms: at 10 kHz 0.3 ms to either side of a spike are looked at, so
/// that its crest is taken for one; at 50 kHz it is not.
#[test]
fn what_is_looked_at_about_a_spike_blurs_an_overshoot() {
    // ζ = 0.53, of which the overshoot is e^(−πζ/√(1 − ζ²)) = 14 % (closed form).
    let (zeta, omega) = (0.53_f64, 7.0e3);
    let damped = omega * (1.0 - zeta * zeta).sqrt();
    let seen = |rate_hz: f64| {
        let step = |t: f64| {
            let part = (damped * t).cos() + zeta * omega / damped * (damped * t).sin();
            100.0 * (1.0 - (-zeta * omega * t).exp() * part)
        };
        let at = |n: u32| step(((f64::from(n) - 500.0) / rate_hz).max(0.0));
        let trace = Trace {
            rate_hz,
            first: 0,
            amps: (0..20_000).map(at).collect(),
            volts: Vec::new(),
        };
        let window = Span {
            on: 500.0,
            off: 20_000.0,
        };
        match onset(&trace, &trace, window, 0.0, None) {
            Onset::Rises { overshoot_pct, .. } => overshoot_pct,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(seen(10e3), None);
    assert!((seen(50e3).unwrap() - 14.0).abs() < 1.5);
}

/// A pedal from 20 A to 70 A in 80 ms and back to 60 A takes 55.8 ms from 6 A to 54 A: it shoots past nothing.
#[test]
fn a_pedal_overshoots_nothing() {
    let amps = |ms: f64| match ms {
        ..50.0 => 0.0,
        50.0..52.0 => 10.0 * (ms - 50.0),
        52.0..132.0 => 20.0 + 0.625 * (ms - 52.0),
        132.0..152.0 => 70.0 - 0.5 * (ms - 132.0),
        _ => 60.0,
    };
    let Onset::Rises {
        frames,
        overshoot_pct,
        ..
    } = seen(amps)
    else {
        panic!("it rises");
    };
    assert!((frames / MS - 55.8).abs() < 0.5, "{}", frames / MS);
    assert_eq!(overshoot_pct, None);
}

/// 3.3 A/ms to 80 A, and down to 60 A for good: 14.5 ms of rise. Held until 70 ms it is a hand's, and until 35 ms an overshoot of a third.
#[test]
fn a_slow_overshoot_has_to_come_back() {
    let struck = |back_ms: f64| {
        let amps = move |ms: f64| match ms - 50.0 {
            ..0.0 => 0.0,
            t if t < 30.0 => (3.3 * t).min(80.0),
            t if t < back_ms => 80.0,
            _ => 60.0,
        };
        match seen(amps) {
            Onset::Rises { overshoot_pct, .. } => overshoot_pct,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(struck(70.0), None);
    let overshoot = struck(35.0).unwrap();
    assert!((overshoot - 100.0 / 3.0).abs() < 1.0, "{overshoot}");
}

/// Three rises of 8 ms after the 90 % at 59 ms are over at 83 ms: a bump of 5 ms counts before that and not after.
#[test]
fn after_a_slow_rise_overshoot_is_looked_for_over_three_rises() {
    let bump_at = |at: f64| {
        let amps = move |ms: f64| match ms {
            _ if (at..at + 5.0).contains(&ms) => 88.0,
            ..50.0 => 0.0,
            50.0..60.0 => 8.0 * (ms - 50.0),
            _ => 80.0,
        };
        rises(seen(amps)).1
    };
    let (inside, after) = (bump_at(76.0), bump_at(84.0));
    assert!((inside - 10.0).abs() < 0.1, "{inside}");
    assert!(after < 0.01, "{after}");
}

/// The direction is that of the first current, whatever stood before it and whatever follows.
#[test]
fn of_alternating_current_the_first_half_cycle_rises() {
    let amps = |ms: f64| match ms {
        ..50.0 => -0.1,
        50.0..60.0 => 8.0 * (ms - 50.0),
        60.0..90.0 => 80.0,
        _ => -80.0,
    };
    let (rise, _) = rises(seen(amps));
    assert!((rise - 8.0).abs() < 0.01, "{rise}");
}

#[test]
fn a_step_within_a_sample_is_too_fast_and_one_of_under_a_tenth_is_none() {
    let step = |low: f64| seen(move |ms| if ms < 50.0 { low } else { 100.0 });
    assert_eq!((step(0.0), step(89.5)), (Onset::TooFast, Onset::TooFast));
    assert_eq!((step(90.5), step(100.0)), (Onset::Level, Onset::Level));
    let later = |ms: f64| if ms < 60.0 { 10.0 } else { 100.0 };
    assert_eq!(seen(later), Onset::TooFast);
}

/// A ring of 8 A about zero on the strike of a rise to 80 A: its negative sample has no say in which way the current goes.
#[test]
fn a_ring_does_not_turn_the_current_round() {
    const RING: [f64; 4] = [-1.0, 1.0, -1.0, 0.5];
    let amps = |n: u32| match n {
        ..500 => 0.0,
        n => {
            let ring = RING.get((n - 500) as usize).map_or(0.0, |part| 8.0 * part);
            ring + 80.0 * (1.0 - (-f64::from(n - 500) / 20.0).exp())
        }
    };
    assert!(matches!(seen_at(50e3, amps), Onset::Rises { .. }));
}

/// 13 A for one sample on the strike of a current that rises to 48 A: where it passed a tenth is hidden, and what follows may tell.
#[test]
fn a_rise_that_falls_back_on_its_way_has_something_on_it() {
    let amps = |spark: f64| {
        move |n: u32| match n {
            ..500 => 0.0,
            500 => spark,
            n => 48.0 * (1.0 - (-f64::from(n - 500) / 8.0).exp()),
        }
    };
    let frames = |onset| match onset {
        Onset::Rises { frames, .. } => Some(frames),
        _ => None,
    };
    let clean = frames(seen_at(50e3, amps(0.0))).unwrap();
    let struck = frames(seen_at(50e3, amps(13.0)));
    assert!(struck.is_none_or(|rise| (rise / clean - 1.0).abs() < 0.15));
    assert_eq!(falls_back(&[1.0, 5.0, 3.0, 9.0], 1.0), Some(1));
    assert_eq!(falls_back(&[1.0, 5.0, 4.5, 9.0], 1.0), None);
}
