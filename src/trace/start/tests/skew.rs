//! Delays put between the channels of made recordings, and what is found of them. Tolerances (one sample or 10 %) and the
//! limit of what counts as a fault are this project's own.

use crate::job::{Context, Measuring};
use crate::long_form::long;
use crate::recording::Recording;
use crate::start::{Skew, find, skew};
use tipstrike_demo::{
    Chance, ChannelModel, Kind, LoggerModel, Method, Program, Scenario, Shape, Strike, Wave,
    simulate,
};

const RATE: f64 = 20_000.0;

fn strike(method: Method, wave: Wave) -> Strike {
    Strike {
        method,
        program: Program {
            wave,
            ..Program::steady(80.0)
        },
        ..Strike::default()
    }
}

fn lift() -> Method {
    Method::Touch {
        before_v: 11.0,
        waits_s: 0.1,
        touch_s: 0.08,
        touch_a: 25.0,
    }
}

fn recorded(strike: &Strike, rate_hz: f64, voltage_late_s: f64) -> Option<Skew> {
    let decent = LoggerModel::decent(300.0, 120.0, 0.1);
    let late = |model: ChannelModel, late_s: f64| ChannelModel {
        late_s,
        offset: 0.0,
        ..model
    };
    let made = simulate(&Scenario {
        rate_hz,
        strikes: vec![strike.clone(); 3],
        logger: LoggerModel {
            amps: late(decent.amps, (-voltage_late_s).max(0.0)),
            volts: late(decent.volts, voltage_late_s.max(0.0)),
            bits: decent.bits,
        },
        ..Scenario::default()
    });
    let recording = Recording::from_samples("made", made.rate_hz, made.amps, made.volts);
    let measuring = Measuring::default();
    let starts = find(&recording, &measuring, &Context::default()).unwrap();
    skew(&recording, &measuring, &starts).unwrap()
}

/// All delays for one kind of start, three for the others (`TIPSTRIKE_LONG=1`: all for all).
fn delays_ms(kind: &str) -> &'static [f64] {
    match kind {
        "high frequency" => &[0.0, 0.2, 1.0, 5.0, -0.2, -1.0, -5.0],
        _ if long() => delays_ms("high frequency"),
        _ => &[0.2, 1.0, -5.0],
    }
}

#[test]
fn a_delay_put_in_is_found_and_told_from_half_a_millisecond_on() {
    let hf = Method::Hf { delay_s: 0.04 };
    let ac = Wave::Ac {
        hz: 120.0,
        en_share: 0.7,
        ep_ratio: 1.0,
        shape: Shape::Square,
        lead: None,
    };
    let pulse = Wave::Pulse {
        hz: 100.0,
        background: 0.4,
        duty: 0.5,
    };
    let kinds = [
        ("high frequency", strike(hf, Wave::Negative)),
        ("lift", strike(lift(), Wave::Negative)),
        ("alternating", strike(hf, ac)),
        ("pulsed", strike(hf, pulse)),
    ];
    for (name, strike) in &kinds {
        for &late_ms in delays_ms(name) {
            let seen = recorded(strike, RATE, 1e-3 * late_ms).expect("three strikes tell it");
            let (got, sample_ms) = (-1e3 * seen.current_late_s, 1e3 / RATE);
            let off = (got - late_ms).abs();
            // One sample or 10 %, and what rounding adds to it.
            let tolerance = sample_ms.max(0.1 * late_ms.abs()) + 1e-9;
            assert!(off <= tolerance, "{name}: {late_ms} ms, found {got} ms");
            // A touch machine may answer late: only a voltage that comes after the current is a fault there.
            let fault = late_ms.abs() > 0.6 && (*name != "lift" || late_ms > 0.0);
            assert_eq!(
                seen.finding().is_some(),
                fault,
                "{name}: {late_ms} ms: {seen:?}"
            );
        }
    }
    let said = recorded(&kinds[0].1, RATE, 5e-3)
        .unwrap()
        .finding()
        .unwrap()
        .seen
        .to_string();
    assert!(
        said.starts_with("the voltage comes 5.0") && said.contains("over 3 strikes"),
        "{said}"
    );
}

#[test]
fn no_kind_of_start_at_any_rate_shows_a_delay_of_its_own() {
    let (mut told, mut faults) = (0, Vec::new());
    for (number, kind) in Kind::ALL.iter().enumerate() {
        // The fastest costs most by far: in the long form only.
        let rates = [5e3, 20e3, 100e3];
        for (k, rate) in rates.into_iter().take(2 + usize::from(long())).enumerate() {
            let mut chance = Chance::new(77, (10 * number + k) as u64);
            let strike = kind.strike(&mut chance, rate, 60.0);
            let Some(seen) = recorded(&strike, rate, 0.0) else {
                continue;
            };
            told += 1;
            faults.extend(
                seen.finding()
                    .map(|f| format!("{} at {rate} Hz: {}", kind.name(), f.seen)),
            );
        }
    }
    assert!(faults.is_empty(), "{faults:?}");
    assert!(told > 35, "{told}");
}
