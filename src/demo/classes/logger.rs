//! Classes that the logger, its wiring and its neighbours make.

use super::draw::{alternating, one_may_not_light, steady, trial};
use super::{Class, Trial};
use crate::chance::Chance;
use crate::fault::{During, Fault};
use crate::scenario::Program;

const RATES_HZ: [f64; 3] = [10e3, 20e3, 50e3];
const SOUND_CARD_HZ: [f64; 2] = [44.1e3, 48e3];

/// Draws a recording of a class; `None` where the machine makes the class.
pub(super) fn draw(class: Class, chance: &mut Chance) -> Option<Trial> {
    let mut trial = match class {
        Class::PickUp => pick_up(chance),
        Class::ZeroStep | Class::Remanence | Class::ZeroSwing => zero(class, chance),
        Class::ZeroDrift => drift(chance),
        Class::Noise | Class::Hum | Class::FewBits => raw(class, chance),
        Class::Spikes => spikes(chance),
        Class::ClampedOpen => clamped(chance),
        Class::Coupled | Class::CoupledOne | Class::CoupledCut | Class::CoupledStated => {
            return Some(coupled(class, chance));
        }
        Class::Swapped | Class::Reversed | Class::TenTimes | Class::LeadDrop => {
            return Some(wired(class, chance).only_said());
        }
        Class::LeadOff => return Some(lead_off(chance)),
        Class::Neighbour => neighbour(chance),
        _ => return None,
    };
    one_may_not_light(chance, &mut trial);
    Some(trial)
}

fn sign(chance: &mut Chance) -> f64 {
    chance.one_of(&[1.0, -1.0])
}

fn pick_up(chance: &mut Chance) -> Trial {
    let peak = chance.between(1.0, 3.0);
    let rectified = chance.happens(0.4);
    let during = chance.one_of(&[During::Open, During::Arc, During::On]);
    // What is rectified and stays under the arc is current as good as any: it must be small beside it.
    let least_a = match rectified && during != During::Open {
        true => 60.0 * peak,
        false => 15.0,
    };
    let program = steady(chance, least_a, 250.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    let hz = chance.log_between(50.0, 300.0);
    trial.current().faults = vec![Fault::PickUp {
        peak,
        hz,
        rectified,
        during,
    }];
    trial
}

fn zero(class: Class, chance: &mut Chance) -> Trial {
    let program = steady(chance, 40.0, 200.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    let length_s = trial.length_s();
    let fault = match class {
        Class::ZeroStep => Fault::Step {
            at_s: chance.between(0.3, length_s),
            by: sign(chance) * chance.log_between(0.5, 5.0),
        },
        Class::Remanence => Fault::Remanence(sign(chance) * chance.between(0.5, 3.0)),
        _ => Fault::Swing {
            peak: chance.between(0.5, 3.0),
            period_s: chance.between(3.0, 11.0),
        },
    };
    trial.current().faults = vec![fault];
    trial
}

fn drift(chance: &mut Chance) -> Trial {
    let program = steady(chance, 40.0, 200.0);
    let mut trial = trial(chance, &RATES_HZ[..2], program);
    trial.current().drift_per_s = sign(chance) * chance.between(0.1, 0.4);
    for strike in trial.strikes() {
        strike.arc_s = 8.0;
        strike.rest_s = 0.35;
    }
    trial
}

fn raw(class: Class, chance: &mut Chance) -> Trial {
    let program = steady(chance, 30.0, 200.0);
    let mut trial = trial(chance, &[10e3, 50e3], program);
    let amps = trial.amps();
    match class {
        Class::Noise => {
            trial.current().noise = chance.one_of(&[0.01, 0.02, 0.03]) * amps;
            trial.voltage().noise = chance.between(0.05, 0.3);
        }
        Class::Hum => trial.current().hum = 0.05 * amps,
        _ => {
            let bits = chance.one_of(&[8, 10]);
            trial.scenario.logger.bits = Some(bits);
            let step = trial.current().full_scale / f64::from(1u32 << (bits - 1));
            trial.current().offset = chance.between(0.2, 0.8) * step;
        }
    }
    trial
}

fn spikes(chance: &mut Chance) -> Trial {
    let program = steady(chance, 30.0, 200.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    let early = chance.happens(0.5);
    for (channel, share) in [(trial.scenario.logger.amps.full_scale, 0), (120.0, 1)] {
        let peak = chance.between(0.1, 0.5) * channel;
        let mut faults = vec![Fault::Spikes {
            peak,
            every_s: 0.019,
            span_s: (chance.between(0.0, 0.019), f64::INFINITY),
        }];
        faults.extend(early.then_some(Fault::EarlySpark(peak)));
        match share {
            0 => trial.current().faults = faults,
            _ => trial.voltage().faults = faults,
        }
    }
    trial
}

fn clamped(chance: &mut Chance) -> Trial {
    let program = steady(chance, 30.0, 150.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    trial.voltage().faults = vec![Fault::Clamp(chance.between(24.0, 40.0))];
    trial
}

/// Direct or alternating current, one as often as the other.
fn either(chance: &mut Chance) -> Program {
    match chance.happens(0.5) {
        true => steady(chance, 40.0, 200.0),
        false => {
            let hz = chance.between(50.0, 150.0);
            alternating(chance, hz)
        }
    }
}

fn coupled(class: Class, chance: &mut Chance) -> Trial {
    let mut program = either(chance);
    let arc_s = chance.between(1.3, 2.5);
    if chance.happens(0.5) {
        let slope_s = chance.between(0.2, 1.0).min(arc_s - 1.1);
        program.envelope =
            crate::kinds::knots(&[(0.0, 1.0), (arc_s - slope_s, 1.0), (arc_s, 0.05)]);
    }
    let mut trial = trial(chance, &SOUND_CARD_HZ, program);
    trial.strikes().for_each(|s| s.arc_s = arc_s);
    let corner_hz = chance.log_between(1.0, 20.0);
    let voltage_only = class == Class::CoupledOne && chance.happens(0.5);
    if !voltage_only {
        trial.current().high_pass_hz = Some(corner_hz);
    }
    if class != Class::CoupledOne || voltage_only {
        trial.voltage().high_pass_hz = Some(corner_hz);
    }
    if class == Class::CoupledStated {
        trial.wiring.high_pass_stated_hz = Some(corner_hz);
        return trial;
    }
    if class == Class::CoupledCut {
        let back_s = trial.scenario.tail_s + 0.05 + chance.between(0.2, 0.8);
        trial.wiring.stops_s = Some(trial.length_s() - back_s);
    }
    trial.only_said()
}

fn wired(class: Class, chance: &mut Chance) -> Trial {
    let program = match class {
        Class::Reversed | Class::LeadDrop => steady(chance, 60.0, 200.0),
        _ => either(chance),
    };
    let mut trial = trial(chance, &RATES_HZ, program);
    match class {
        Class::Swapped => trial.wiring.swapped = true,
        Class::Reversed => {
            trial.wiring.reversed = chance.one_of(&[[true, false], [false, true], [true, true]]);
        }
        Class::TenTimes => trial.wiring.scale_stated = Some(chance.one_of(&[0.1, 10.0])),
        _ => {
            let ohm = chance.between(6.0, 14.0) / trial.amps();
            trial.strikes().for_each(|s| s.lead_ohm = ohm);
        }
    }
    trial
}

fn lead_off(chance: &mut Chance) -> Trial {
    let program = steady(chance, 30.0, 200.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    let at_s = chance.between(0.3, 0.7) * trial.length_s();
    trial.voltage().faults = vec![Fault::LeadOff(at_s)];
    trial.only_said_from_s = Some(at_s);
    trial
}

fn neighbour(chance: &mut Chance) -> Trial {
    let program = steady(chance, 110.0, 250.0);
    let mut trial = trial(chance, &RATES_HZ, program);
    let length_s = trial.length_s();
    let from_s = chance.between(0.0, 0.7) * length_s;
    let span_s = (from_s, from_s + chance.between(0.3, 3.0));
    trial.current().faults = vec![match chance.below(3) {
        0 => Fault::Neighbour {
            level: 2.0,
            pulse_hz: None,
            span_s,
        },
        1 => Fault::Neighbour {
            level: 2.0,
            pulse_hz: Some(chance.between(1.0, 10.0)),
            span_s,
        },
        _ => Fault::Spikes {
            peak: chance.between(5.0, 40.0),
            every_s: 0.01,
            span_s,
        },
    }];
    trial
}
