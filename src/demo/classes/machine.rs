//! Classes that the machine, the torch and the welder's foot make.

use super::draw::{alternating, column, one_may_not_light, steady, still, trial};
use super::{Class, Trial};
use crate::chance::Chance;
use crate::kinds;
use crate::logger::HfShape;
use crate::scenario::{
    AcPulse, Discharge, Knot, Program, Ripple, RippleWave, Rise, Shape, Stretch, Wave,
};

const RATES_HZ: [f64; 3] = [10e3, 20e3, 50e3];

/// Draws a recording of a class; `None` where the logger makes the class.
pub(super) fn draw(class: Class, chance: &mut Chance) -> Option<Trial> {
    Some(match class {
        Class::SlowRise => slow_rise(chance),
        Class::Ripple => ripple(chance),
        Class::SparksGoOn => sparks(chance),
        Class::Discharge => discharge(chance),
        Class::ReducedOpen => reduced(chance),
        Class::UpSlope => up_slope(chance),
        Class::Pedal => pedal(chance),
        Class::FourStroke => four_stroke(chance),
        Class::PulsedAc => pulsed_ac(chance),
        Class::PulseRate => pulse_rate(chance),
        Class::Rectifying => rectifying(chance),
        Class::AcFrequency => ac_frequency(chance),
        Class::ArcLost | Class::PulledAway => lost(class, chance),
        _ => return None,
    })
}

fn slow_rise(chance: &mut Chance) -> Trial {
    let mut program = steady(chance, 30.0, 200.0);
    program.rise = Rise::First {
        tau_s: chance.log_between(2e-3, 20e-3),
    };
    let mut trial = trial(chance, &[10e3, 50e3], program);
    trial.current().noise = chance.one_of(&[0.01, 0.02, 0.03]) * trial.amps();
    // A slow machine needs longer than such a try, and a dip of its current is slow too.
    for strike in trial.strikes() {
        strike.tries.clear();
        strike.dropouts.clear();
    }
    one_may_not_light(chance, &mut trial);
    trial
}

fn ripple(chance: &mut Chance) -> Trial {
    let mut program = steady(chance, 30.0, 200.0);
    let hz = chance.one_of(&[100.0, 120.0, 300.0, 360.0, 61.4]);
    program.ripple = Some(Ripple {
        share: chance.between(0.1, 0.4),
        hz,
        wave: chance.one_of(&[RippleWave::Sine, RippleWave::Saw, RippleWave::Rectified]),
    });
    let mut trial = trial(chance, &RATES_HZ, program);
    trial.scenario.mains_hz = if hz % 100.0 == 0.0 { 50.0 } else { 60.0 };
    trial.wiring.mains_stated_hz = Some(chance.one_of(&[50.0, 60.0]));
    trial
}

fn sparks(chance: &mut Chance) -> Trial {
    let alternates = chance.happens(0.4);
    let program = match alternates {
        true => {
            let hz = chance.between(50.0, 150.0);
            alternating(chance, hz)
        }
        false => steady(chance, 30.0, 200.0),
    };
    let mut trial = trial(chance, &RATES_HZ, program);
    for strike in &mut trial.scenario.strikes {
        strike.sparks_s = match alternates {
            true => f64::INFINITY,
            false => chance.between(0.05, 0.5),
        };
    }
    let lasts_s = chance.between(40e-6, 150e-6);
    let shape = chance.one_of(&[
        HfShape::Ring,
        HfShape::LongRing(lasts_s),
        HfShape::Unipolar(lasts_s),
    ]);
    trial.current().hf_shape = shape;
    trial.voltage().hf_shape = shape;
    trial
}

fn discharge(chance: &mut Chance) -> Trial {
    let program = steady(chance, 20.0, 150.0);
    let mut trial = trial(chance, &[20e3, 50e3], program);
    for strike in &mut trial.scenario.strikes {
        strike.discharge = Some(Discharge {
            amps: chance.between(60.0, 200.0),
            lasts_s: chance.log_between(60e-6, 400e-6),
        });
    }
    trial.current().full_scale += 200.0;
    trial
}

fn reduced(chance: &mut Chance) -> Trial {
    let program = steady(chance, 30.0, 150.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    let open_v = chance.between(12.0, 28.0);
    trial.strikes().for_each(|s| s.open_v = Some(open_v));
    one_may_not_light(chance, &mut trial);
    trial
}

fn up_slope(chance: &mut Chance) -> Trial {
    let mut program = steady(chance, 60.0, 200.0);
    let slope_s = chance.log_between(0.2, 5.0);
    let from = chance.between(0.0, 40.0) / program.amps;
    program.envelope = kinds::knots(&[(0.0, from), (slope_s, 1.0)]);
    let mut trial = trial(chance, &RATES_HZ[..2], program);
    for strike in trial.strikes() {
        strike.upslope_s = Some(slope_s);
        strike.arc_s = slope_s + 1.3;
        strike.tries.clear();
        strike.dropouts.clear();
        strike.touches.clear();
    }
    trial
}

fn pedal(chance: &mut Chance) -> Trial {
    let program = steady(chance, 60.0, 200.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    for strike in &mut trial.scenario.strikes {
        let mut knots = vec![Knot {
            at_s: chance.between(0.05, 0.2),
            factor: chance.between(0.3, 0.8),
        }];
        let mut at_s = knots[0].at_s;
        while at_s < 1.0 {
            at_s += chance.between(0.1, 0.5);
            knots.push(Knot {
                at_s,
                factor: chance.between(0.5, 1.0),
            });
        }
        strike.program.envelope = knots;
    }
    trial
}

fn four_stroke(chance: &mut Chance) -> Trial {
    let mut program = steady(chance, 60.0, 200.0);
    let held_s = chance.between(0.1, 0.25);
    let slope_s = chance.between(0.05, 0.25);
    program.envelope = kinds::knots(&[(held_s, chance.between(0.2, 0.6)), (held_s + slope_s, 1.0)]);
    trial(chance, &RATES_HZ, program)
}

fn pulsed_ac(chance: &mut Chance) -> Trial {
    let hz = chance.between(60.0, 150.0);
    let mut program = alternating(chance, hz);
    if let Wave::Ac { lead, .. } = &mut program.wave {
        *lead = None;
    }
    program.ac_pulse = Some(AcPulse {
        hz: chance.log_between(1.0, 10.0),
        background: chance.between(0.4, 0.8),
        duty: chance.one_of(&[0.35, 0.4, 0.6, 0.65]),
    });
    let mut trial = trial(chance, &RATES_HZ, program);
    for strike in trial.strikes() {
        strike.tries.clear();
        strike.arc_s = 2.2;
    }
    trial
}

fn pulse_rate(chance: &mut Chance) -> Trial {
    let mut program = steady(chance, 40.0, 200.0);
    let mut hz = chance.log_between(0.5, 10e3);
    if (1.5..3.0).contains(&hz) {
        // Between the two either view is right: a pulse, or a moving pedal.
        hz *= 2.0;
    }
    program.rise = Rise::First { tau_s: 0.02e-3 };
    program.wave = Wave::Pulse {
        hz,
        background: chance.between(0.25, 0.6),
        duty: chance.between(0.35, 0.65),
    };
    let mut trial = trial(chance, &RATES_HZ, program);
    let part = hz / trial.scenario.rate_hz;
    for strike in trial.strikes() {
        strike.tries.clear();
        if let Wave::Pulse { hz, .. } = &mut strike.program.wave
            && NEAR_RATE.contains(&part)
        {
            *hz *= 0.8;
        }
    }
    trial
}

/// A pulse this near the sampling rate, as a fraction of it, looks like a slow ripple, and nothing in the samples tells the two apart; a
/// logger's own filter takes it away.
const NEAR_RATE: std::ops::Range<f64> = 0.9..1.1;

fn rectifying(chance: &mut Chance) -> Trial {
    let hz = chance.between(50.0, 150.0);
    let mut program = alternating(chance, hz);
    let Wave::Ac { lead, en_share, .. } = &mut program.wave else {
        unreachable!("it was drawn to alternate")
    };
    *lead = None;
    let en_share = *en_share;
    let mut trial = trial(chance, &RATES_HZ, program);
    let (share, which) = match chance.below(4) {
        0 => (0.5, Missing::EverySecond),
        1 => (1.0, Missing::AtRandom),
        _ => (chance.log_between(0.02, 0.9), Missing::AtRandom),
    };
    for strike in &mut trial.scenario.strikes {
        strike.tries.clear();
        let count = (strike.arc_s * hz) as usize;
        let begin = |k: usize| (k as f64 + en_share) / hz - 1e-4;
        strike.missed_s = (0..count)
            .filter(|k| match which {
                Missing::EverySecond => k % 2 == 1,
                Missing::AtRandom => share == 1.0 || chance.happens(share),
            })
            .map(begin)
            .collect();
    }
    // Settling and run level are those of half-cycles that are there: with many missing, nothing says which those are.
    if share > 0.1 {
        trial.undefined = vec!["t_settled_s", "run_a", "wander_v"];
    }
    trial
}

/// Which half-cycles do not reignite.
#[derive(Clone, Copy)]
enum Missing {
    EverySecond,
    AtRandom,
}

fn ac_frequency(chance: &mut Chance) -> Trial {
    let hz = chance.between(47.0, 250.0);
    let mut program = alternating(chance, hz);
    program.rise = Rise::First { tau_s: 0.03e-3 };
    if let Wave::Ac { shape, .. } = &mut program.wave {
        *shape = Shape::Square;
    }
    let rates = [5e3, 10e3, 20e3, 50e3];
    trial(chance, &rates, program)
}

fn lost(class: Class, chance: &mut Chance) -> Trial {
    let program: Program = steady(chance, 20.0, 150.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    for strike in &mut trial.scenario.strikes {
        strike.column = column(chance);
        strike.then_open_s = chance.log_between(0.03, 0.6);
        strike.rest_s = chance.between(0.5, 1.0);
        if class == Class::PulledAway {
            strike.arc_s = chance.between(1.3, 1.6);
            strike.stretch = Some(Stretch {
                lasts_s: chance.between(0.05, 0.25),
                by_v: chance.between(5.0, 20.0),
            });
        } else if strike.dropouts.is_empty() && strike.touches.is_empty() {
            strike.arc_s = chance.between(0.2, 1.2);
            strike.wander = still();
        }
    }
    trial
}
