//! The finder on plain vectors whose instants are known by construction.

use crate::flag::Flag;
use crate::job::{Context, Measuring};
use crate::recording::Recording;
use crate::start::{Start, find};

const RATE: f64 = 20_000.0;

/// A made start: amps and volts as functions of seconds.
fn recording(seconds: f64, amps: impl Fn(f64) -> f64, volts: impl Fn(f64) -> f64) -> Recording {
    let at = |f: &dyn Fn(f64) -> f64| {
        (0..(seconds * RATE) as usize)
            .map(|k| f(k as f64 / RATE))
            .collect()
    };
    Recording::from_samples("made", RATE, at(&amps), at(&volts))
}

fn starts(recording: Recording) -> Vec<Start> {
    find(&recording, &Measuring::default(), &Context::default()).unwrap()
}

fn near(seen: Option<f64>, expected: f64, within: f64) {
    let seen = seen.expect("measured");
    assert!(
        (seen - expected).abs() <= within,
        "{seen} is not {expected} ± {within}"
    );
}

/// 80 A from 0.5 s, first order with 2 ms, out at 1.9 s; circuit open from 0.4 s; arc voltage 10 V + 0.02 V/A.
fn plain(t: f64) -> (f64, f64) {
    if (0.5..1.9).contains(&t) {
        let amps = 80.0 * (1.0 - (-(t - 0.5) / 0.002).exp());
        (amps, 10.0 + 0.02 * amps)
    } else if (0.4..0.5).contains(&t) {
        (0.0, 70.0)
    } else {
        (0.0, 0.0)
    }
}

#[test]
fn a_plain_start_has_its_five_instants_and_levels() {
    let found = starts(recording(2.5, |t| plain(t).0, |t| plain(t).1));
    assert_eq!(found.len(), 1);
    let (i, m) = (&found[0].instants, &found[0].measures);
    near(i.t_open_s, 0.4, 1e-4);
    // 1 A of 80 A with 2 ms: 25 µs.
    near(i.t_first_s, 0.500025, 2e-5);
    near(i.t_lit_s, 0.500025, 2e-5);
    // Into ±10 %: 2.302585 time constants.
    near(i.t_settled_s, 0.5 + 2.302585 * 0.002, 5e-5);
    near(i.t_out_s, 1.9, 1e-4);
    near(m.delay_ms, 100.0, 0.1);
    near(m.rise_ms, 2.1972 * 2.0, 0.03);
    near(m.overshoot_pct, 0.0, 0.05);
    near(m.run_a, 80.0, 0.01);
    near(m.run_v, 11.6, 0.01);
    near(m.attempts, 1.0, 0.0);
    near(m.dropouts, 0.0, 0.0);
    near(m.touches, 0.0, 0.0);
    near(m.wander_v, 0.0, 1e-3);
    assert!(found[0].flags.is_empty(), "{:?}", found[0].flags);
}

#[test]
fn idle_and_open_circuit_alone_are_told_as_a_start_that_did_not_light() {
    let found = starts(recording(
        2.0,
        |_| 0.0,
        |t| if (0.5..1.0).contains(&t) { 70.0 } else { 0.0 },
    ));
    assert_eq!(found.len(), 1);
    assert!(!found[0].lit());
    near(found[0].instants.t_open_s, 0.5, 1e-4);
    near(found[0].measures.attempts, 0.0, 0.0);
}

#[test]
fn an_arc_that_burned_before_the_recording_is_no_start_of_it() {
    let found = starts(recording(
        2.0,
        |t| if t < 0.5 { 80.0 } else { 0.0 },
        |t| if t < 0.5 { 12.0 } else { 0.0 },
    ));
    assert!(found.is_empty());
}

#[test]
fn square_alternating_current_is_measured_by_half_cycles() {
    let wave = |t: f64| {
        let phase = ((t - 0.5) * 90.0).fract();
        if !(0.5..2.0).contains(&t) {
            0.0
        } else if phase < 0.65 {
            150.0
        } else {
            -100.0
        }
    };
    let found = starts(recording(2.5, wave, |t| {
        wave(t).signum() * if wave(t) == 0.0 { 0.0 } else { 14.0 }
    }));
    assert_eq!(found.len(), 1);
    let m = &found[0].measures;
    near(m.ac_hz, 90.0, 0.02);
    near(m.en_share_pct, 65.0, 0.1);
    // Square-wave table (analytic): 0.65 of 150 A negative, 100 A positive: rms 134.629, mean −62.5.
    near(m.run_a, 134.629, 0.5);
    near(m.dc_offset_a, -62.5, 0.5);
    near(m.missed_halfcycles, 0.0, 0.0);
    near(m.dropouts, 0.0, 0.0);
}

/// 60 Hz pulsed at 4 Hz between 120 A and 60 A: fifteen cycles a pulse, so that the levels change in the middle of a cycle.
#[test]
fn pulsed_alternating_current_has_one_level_and_its_pulses_frequency() {
    let wave = |t: f64| match (0.5..2.0).contains(&t) {
        true => {
            let amps = match ((t - 0.5) * 4.0).fract() < 0.5 {
                true => 120.0_f64,
                false => 60.0,
            };
            let negative = ((t - 0.5) * 60.0).fract() < 0.5;
            if negative { amps } else { -amps }
        }
        false => 0.0,
    };
    let volts = |t: f64| (wave(t) / 4.0).clamp(-14.0, 14.0);
    let found = starts(recording(2.5, wave, volts));
    assert_eq!(found.len(), 1);
    let m = &found[0].measures;
    near(m.ac_hz, 60.0, 0.02);
    near(m.pulse_hz, 4.0, 0.08);
    // √((120² + 60²)/2), closed form.
    near(m.run_a, 94.868, 1.0);
    near(found[0].instants.t_settled_s, 0.5, 0.02);
}

#[test]
fn wander_under_a_moving_pedal_is_measured_and_the_pedal_is_not() {
    let amps = |t: f64| {
        if (0.5..2.0).contains(&t) {
            80.0 + 7.0 * (3.0 * (t - 0.5)).sin()
        } else {
            0.0
        }
    };
    let wandering =
        |t: f64| 0.3 * std::f64::consts::SQRT_2 * (std::f64::consts::TAU * 13.0 * t).sin();
    let arc = move |t: f64| {
        if amps(t) > 0.0 {
            9.0 + 0.05 * amps(t) + 0.8 * (-(t - 0.5) / 0.05).exp()
        } else {
            0.0
        }
    };
    let quiet = starts(recording(2.5, amps, arc));
    near(quiet[0].measures.wander_v, 0.0, 0.01);
    let moved = starts(recording(2.5, amps, move |t| {
        arc(t) + if amps(t) > 0.0 { wandering(t) } else { 0.0 }
    }));
    near(moved[0].measures.wander_v, 0.3, 0.03);
    near(moved[0].measures.wander_hz, 13.0, 1.5);
}

/// Square-wave table (analytic): share b, amplitudes In and Ip: mean (1 − b)·Ip − b·In, rms √(b·In² + (1 − b)·Ip²).
#[test]
fn square_waves_match_the_table_of_balance() {
    for (share, negative, positive, mean, rms) in [
        (0.50, 100.0, 100.0, 0.0, 100.0),
        (0.65, 100.0, 100.0, -30.0, 100.0),
        (0.65, 150.0, 100.0, -62.5, 134.6291201783626),
        (0.75, 180.0, 120.0, -105.0, 167.03293088490065),
    ] {
        let wave = |t: f64| match ((t - 0.5) * 80.0).fract() {
            _ if !(0.5..2.0).contains(&t) => 0.0,
            phase if phase < share => negative,
            _ => -positive,
        };
        let found = starts(recording(2.5, wave, |t| 0.1 * wave(t)));
        let m = &found[0].measures;
        near(m.en_share_pct, 100.0 * share, 0.25);
        near(m.dc_offset_a, mean, 0.4);
        near(m.run_a, rms, 0.4);
    }
}

#[test]
fn two_starts_close_together_are_two_and_the_rest_between_them_is_told() {
    let on = |t: f64| (0.5..0.9).contains(&t) || (1.1..2.3).contains(&t);
    let found = starts(recording(
        3.0,
        |t| if on(t) { 80.0 } else { 0.0 },
        |t| if on(t) { 12.0 } else { 0.0 },
    ));
    assert_eq!(found.len(), 2);
    assert_eq!(found[0].measures.rest_s, None);
    near(found[1].measures.rest_s, 0.2, 1e-3);
    // The made current steps within a sample: too fast to measure its rise.
    assert_eq!(found[0].flags, [Flag::SlowRate, Flag::ShortWindow]);
}

#[test]
fn a_start_that_the_recordings_end_cuts_off_says_so() {
    let found = starts(recording(
        1.0,
        |t| if t > 0.5 { 80.0 } else { 0.0 },
        |t| if t > 0.5 { 12.0 } else { 0.0 },
    ));
    assert_eq!(found[0].instants.t_out_s, None);
    assert!(found[0].flags.contains(&Flag::CutOff) && found[0].flags.contains(&Flag::ShortWindow));
    assert!(!found[0].flags.contains(&Flag::Gap));
}

#[test]
fn without_voltage_start_time_begins_at_the_first_current() {
    let on = |t: f64| (0.50..0.505).contains(&t) || (0.6..2.0).contains(&t);
    let amps: Vec<f64> = (0..50_000)
        .map(|k| if on(f64::from(k) / RATE) { 80.0 } else { 0.0 })
        .collect();
    let found = starts(Recording::from_samples("made", RATE, amps, Vec::new()));
    assert_eq!(found.len(), 1, "tries less than 150 ms apart are one start");
    let m = &found[0].measures;
    assert_eq!(
        (m.delay_ms, m.touches, m.wander_v, m.run_v),
        (None, None, None, None)
    );
    near(m.attempts, 2.0, 0.0);
    near(m.start_ms, 100.0, 0.2);
    assert!(found[0].flags.contains(&Flag::NoVoltage));
}

/// The voltage is gone from 0.5 s on, the arc burns from 0.7 s: what opened before did light, in the row that follows.
#[test]
fn an_open_circuit_that_a_lead_cut_short_is_no_sure_failure() {
    let volts = |t: f64| if (0.4..0.5).contains(&t) { 70.0 } else { 0.0 };
    let amps = |t: f64| if (0.7..1.9).contains(&t) { 80.0 } else { 0.0 };
    let good = |t: f64| plain(t - 2.0);
    let found = starts(recording(
        4.5,
        |t| amps(t) + good(t).0,
        |t| volts(t) + good(t).1,
    ));
    assert_eq!(found.len(), 3);
    let doubted = |start: &Start| start.flags.contains(&Flag::Doubtful);
    assert!(!found[0].lit() && doubted(&found[0]) && doubted(&found[1]));
    assert!(found[2].lit() && !doubted(&found[2]));
}

/// 3 A of 130 Hz pick-up while the circuit is open, an arc of 24 A: it begins where the voltage falls and the current jumps.
#[test]
fn a_pick_up_beside_a_small_arc_does_not_begin_it() {
    let arc = |t: f64| (0.5..1.9).contains(&t);
    let hum = |t: f64| match (0.4..0.5).contains(&t) {
        true => 3.0 * (std::f64::consts::TAU * 130.0 * t).sin(),
        false => 0.0,
    };
    let amps = |t: f64| if arc(t) { 24.0 } else { hum(t) };
    let found = starts(recording(2.5, amps, |t| match t {
        t if arc(t) => 10.0,
        t if (0.4..0.5).contains(&t) => 70.0,
        _ => 0.0,
    }));
    assert_eq!(found.len(), 1);
    near(found[0].instants.t_lit_s, 0.5, 1e-4);
}

/// 2 A rms of noise raise the conduct level to 12 A, which a current of 100 A and 15 ms passes 1.9 ms behind the voltage's fall
/// (−15 ms · ln(1 − 0.12), closed form).
#[test]
fn a_slow_rise_in_noise_begins_where_the_voltage_falls() {
    let arc = |t: f64| (0.5..1.9).contains(&t);
    let chance = std::cell::RefCell::new(tipstrike_demo::Chance::new(15, 0));
    let amps = |t: f64| {
        let clean = match arc(t) {
            true => 100.0 * (1.0 - (-(t - 0.5) / 0.015).exp()),
            false => 0.0,
        };
        clean + 2.0 * chance.borrow_mut().normals().0
    };
    let found = starts(recording(2.5, amps, |t| match t {
        t if arc(t) => 12.0,
        t if (0.4..0.5).contains(&t) => 70.0,
        _ => 0.0,
    }));
    assert_eq!(found.len(), 1);
    near(found[0].instants.t_first_s, 0.5, 2e-4);
    near(found[0].instants.t_lit_s, 0.5, 2e-4);
}

#[test]
fn a_circuit_that_stays_open_after_an_arc_went_out_was_not_opened_for_the_next_start() {
    let arc = |t: f64| (0.5..1.2).contains(&t) || (1.6..2.8).contains(&t);
    let volts = |t: f64| match t {
        t if arc(t) => 12.0,
        t if (0.4..2.8).contains(&t) => 70.0,
        _ => 0.0,
    };
    let found = starts(recording(3.2, |t| if arc(t) { 80.0 } else { 0.0 }, volts));
    assert_eq!(found.len(), 2);
    near(found[0].instants.t_open_s, 0.4, 1e-3);
    assert_eq!(found[1].instants.t_open_s, None);
}

/// Noise, hum and ignition hash alone, an hour of them: no start.
#[test]
fn noise_hum_and_ignition_hash_have_no_start() {
    use rand::{Rng, SeedableRng};
    const SLOW: f64 = 5000.0;
    // `TIPSTRIKE_LONG=1`: an hour of it.
    let long = std::env::var_os("TIPSTRIKE_LONG").is_some();
    let seconds = if long { 3600.0 } else { 600.0 };
    let mut chance = rand::rngs::ChaCha8Rng::seed_from_u64(5);
    let mut uniform = || f64::from(chance.next_u32()) / f64::from(u32::MAX) - 0.5;
    let amps: Vec<f64> = (0..(seconds * SLOW) as usize)
        .map(|k| {
            // Twelve uniform numbers in sum are near enough to normal: 0.3 A rms.
            let noise = 0.3 * (0..12).map(|_| uniform()).sum::<f64>();
            let hum = 0.4 * (std::f64::consts::TAU * 50.0 * k as f64 / SLOW).sin();
            let hash = match k % 50 {
                0 => 25.0,
                1 => -14.0,
                _ => 0.0,
            };
            noise + hum + hash
        })
        .collect();
    let recording = Recording::from_samples("made", SLOW, amps, Vec::new());
    let noise = recording.survey().noise_a;
    let found = starts(recording);
    assert!(
        found.is_empty(),
        "{} starts at a noise of {noise:?} A",
        found.len()
    );
}
