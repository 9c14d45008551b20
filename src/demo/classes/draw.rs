//! What the classes have in common: a machine set up once, a few starts with it, a decent logger.

use super::{Trial, Wiring};
use crate::QUIET_S;
use crate::chance::Chance;
use crate::kinds;
use crate::logger::{ChannelModel, LoggerModel};
use crate::scenario::{Column, Lead, Method, Program, Rise, Scenario, Shape, Strike, Wander, Wave};

/// Starts of a recording.
const STARTS: usize = 3;
const FULL_SCALE_V: f64 = 120.0;

/// A machine set for steady direct current.
pub(super) fn steady(chance: &mut Chance, least_a: f64, most_a: f64) -> Program {
    Program {
        amps: chance.log_between(least_a, most_a),
        ..kinds::plain(chance).program
    }
}

/// A machine set for alternating current.
pub(super) fn alternating(chance: &mut Chance, hz: f64) -> Program {
    let lead = chance.happens(0.2).then(|| Lead {
        positive: chance.happens(0.5),
        amps: chance.between(30.0, 60.0),
        lasts_s: chance.between(0.02, 0.06),
    });
    Program {
        rise: Rise::First { tau_s: 0.1e-3 },
        wave: Wave::Ac {
            hz,
            en_share: chance.between(0.5, 0.75),
            ep_ratio: chance.between(0.8, 1.2),
            shape: chance.one_of(&[Shape::Square, Shape::SoftSquare, Shape::Sine]),
            lead,
        },
        ..steady(chance, 60.0, 200.0)
    }
}

/// A few starts with one setting of the machine, recorded at one of some rates: now and then with failed attempts, a
/// dropout or a touch.
pub(super) fn trial(chance: &mut Chance, rates_hz: &[f64], program: Program) -> Trial {
    let mains_hz = chance.one_of(&[50.0, 60.0]);
    let rate_hz = chance.one_of(rates_hz);
    let strikes: Vec<Strike> = (0..STARTS)
        .map(|_| strike(chance, &program, mains_hz))
        .collect();
    let peak = program
        .envelope
        .iter()
        .map(|k| k.factor)
        .fold(1.0, f64::max)
        * program.amps;
    let logger = logger(chance, peak);
    Trial {
        scenario: Scenario {
            seed: chance.number(1 << 40),
            rate_hz,
            mains_hz,
            strikes,
            tail_s: chance.between(0.3, 0.6),
            logger,
            voltage: true,
        },
        wiring: Wiring::default(),
        only_said_from_s: None,
        undefined: Vec::new(),
    }
}

fn strike(chance: &mut Chance, program: &Program, mains_hz: f64) -> Strike {
    let mut strike = kinds::plain(chance);
    strike.rest_s = chance.between(0.25, 0.9);
    strike.program = program.clone();
    strike.wander = kinds::wander(chance, &program.wave, mains_hz);
    let direct = matches!(program.wave, Wave::Negative | Wave::Positive);
    match chance.below(10) {
        0 | 1 => strike.tries = kinds::tries(chance),
        2 if direct => strike.dropouts = kinds::upsets(chance, 0.0015, 0.03),
        3 if direct => strike.touches = kinds::upsets(chance, 0.005, 0.06),
        _ => {}
    }
    strike
}

/// Lets one start of a trial, half of the time, come to nothing.
pub(super) fn one_may_not_light(chance: &mut Chance, trial: &mut Trial) {
    if chance.happens(0.5) {
        let number = chance.below(STARTS);
        let strike = &mut trial.scenario.strikes[number];
        *strike = Strike {
            lights: false,
            arc_s: chance.between(0.1, 0.6),
            dropouts: Vec::new(),
            touches: Vec::new(),
            ..strike.clone()
        };
    }
}

/// A decent logger for currents up to this.
fn logger(chance: &mut Chance, peak_a: f64) -> LoggerModel {
    let full_scale = chance.between(1.5, 2.5) * peak_a.max(20.0);
    LoggerModel {
        amps: ChannelModel {
            full_scale,
            noise: chance.log_between(0.0003, 0.002) * full_scale,
            offset: chance.between(-0.003, 0.003) * full_scale,
            hum: 0.0003 * full_scale,
            hf_noise: chance.between(0.05, 0.3) * full_scale,
            ..ChannelModel::default()
        },
        volts: ChannelModel {
            full_scale: FULL_SCALE_V,
            noise: chance.log_between(0.02, 0.15),
            offset: chance.between(-0.2, 0.2),
            hum: 0.03,
            hf_noise: chance.between(5.0, 40.0),
            ..ChannelModel::default()
        },
        bits: Some(chance.one_of(&[12, 14, 16])),
    }
}

impl Trial {
    /// Level that the machine is set to, A.
    pub(super) fn amps(&self) -> f64 {
        self.scenario.strikes[0].program.amps
    }

    pub(super) fn current(&mut self) -> &mut ChannelModel {
        &mut self.scenario.logger.amps
    }

    pub(super) fn voltage(&mut self) -> &mut ChannelModel {
        &mut self.scenario.logger.volts
    }

    pub(super) fn strikes(&mut self) -> impl Iterator<Item = &mut Strike> {
        self.scenario.strikes.iter_mut()
    }

    /// About how long the recording is, s.
    pub(super) fn length_s(&self) -> f64 {
        let each = self.scenario.strikes.iter().map(|s| {
            let waits_s = match s.method {
                Method::Hf { delay_s } => delay_s,
                Method::Touch {
                    waits_s, touch_s, ..
                } => waits_s + touch_s,
            };
            let tries_s: f64 = s.tries.iter().map(|t| t.lasts_s + t.pause_s).sum();
            s.rest_s + waits_s + tries_s + s.arc_s + s.then_open_s + QUIET_S
        });
        each.sum::<f64>() + self.scenario.tail_s
    }

    /// Starts may only be said to be wrong.
    pub(super) fn only_said(mut self) -> Trial {
        self.only_said_from_s = Some(0.0);
        self
    }
}

/// An arc that does not wander: where wander could not be told from what the class is about.
pub(super) fn still() -> Wander {
    Wander {
        v_rms: 0.0,
        tones_hz: Vec::new(),
    }
}

/// An arc that has the voltage which currents of the trade have.
pub(super) fn column(chance: &mut Chance) -> Column {
    Column {
        base_v: chance.between(9.0, 12.0),
        slope_v_per_a: chance.between(0.01, 0.03),
        cold_v: chance.between(0.0, 1.5),
        warm_s: chance.log_between(0.01, 0.1),
    }
}
