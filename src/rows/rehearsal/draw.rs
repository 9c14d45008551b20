//! The starts that are made: like those of the recordings, with delays, tries, dropouts and wander over the range that matters.

use crate::demo::{
    Chance, Disturbance, Knot, LoggerModel, Made, Method, Scenario, Strike, Wave, simulate, tries,
    wander,
};
use crate::rehearsal::setup::Setup;

/// Starts of one made recording: one round of [`ROUND`].
pub(crate) const EACH: usize = 10;
/// Shortest delay that is made, s.
const LEAST_DELAY_S: f64 = 0.004;
/// Shortest and longest dropout that is made: s on DC, half-cycles on AC.
const DROPOUT_S: (f64, f64) = (0.4e-3, 0.03);
const DROPOUT_HALF_CYCLES: (f64, f64) = (1.6, 8.0);
/// Smallest current that is made, A, and largest of the weak ones as a part of the run level.
const LEAST_A: f64 = 0.5;
const WEAK_PART: f64 = 0.4;
/// Mains frequency of the ignition where none is stated, Hz.
const USUAL_MAINS_HZ: f64 = 50.0;
/// Quiet behind the last start, s.
const TAIL_S: f64 = 0.5;
/// Stream of chance of the first made recording.
const STREAM: u64 = 1 << 8;

/// What is special about a made start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Special {
    /// Nothing.
    Plain,
    /// The current takes a while to settle.
    Slow,
    /// Attempts fail before it.
    Tries,
    /// The arc drops out once.
    Dropout,
    /// Half-cycles are missed (AC).
    Missed,
    /// Its current is small.
    Weak,
    /// It comes to nothing.
    NoLight,
}

use Special::{Dropout, Missed, NoLight, Plain, Slow, Tries, Weak};

/// What the starts of a made recording are, in order.
const ROUND: [Special; EACH] = [
    Plain, Dropout, Slow, Tries, Plain, Weak, Dropout, Slow, Missed, Tries,
];

/// A made recording before any logger saw it.
#[derive(Debug)]
pub(crate) struct Chunk {
    /// What is true of it, its traces clean.
    pub made: Made,
    /// What is special about each start.
    pub special: Vec<Special>,
    /// Fixes what is laid over it.
    pub seed: u64,
}

/// The scenario of made recording `number`, by a logger that adds nothing, and what is special about its starts.
pub(crate) fn scenario(setup: &Setup, seed: u64, number: u64) -> (Scenario, Vec<Special>) {
    let mut chance = Chance::new(seed, STREAM + number);
    let mut special: Vec<Special> = ROUND.to_vec();
    // Now and then one comes to nothing.
    if number % 2 == 1 {
        special[3] = NoLight;
    }
    let strikes = special
        .iter()
        .map(|special| strike(setup, *special, &mut chance))
        .collect();
    let scenario = Scenario {
        seed: seed.wrapping_mul(1009).wrapping_add(number),
        rate_hz: setup.rate_hz,
        mains_hz: setup.mains_hz.unwrap_or(USUAL_MAINS_HZ),
        strikes,
        tail_s: TAIL_S,
        logger: LoggerModel::perfect(),
        voltage: setup.voltage,
    };
    (scenario, special)
}

/// Makes recording `number`.
pub(crate) fn chunk(setup: &Setup, seed: u64, number: u64) -> Chunk {
    let (scenario, special) = scenario(setup, seed, number);
    Chunk {
        made: simulate(&scenario),
        special,
        seed: scenario.seed,
    }
}

/// A recording of long rest with one plain start, from which its levels are read.
pub(crate) fn rest(setup: &Setup, seed: u64, number: u64, lasts_s: f64) -> Chunk {
    let mut chance = Chance::new(seed, STREAM + number);
    let scenario = Scenario {
        seed: seed.wrapping_mul(1013).wrapping_add(number),
        rate_hz: setup.rate_hz,
        mains_hz: setup.mains_hz.unwrap_or(USUAL_MAINS_HZ),
        strikes: vec![strike(setup, Plain, &mut chance)],
        tail_s: lasts_s,
        logger: LoggerModel::perfect(),
        voltage: setup.voltage,
    };
    Chunk {
        made: simulate(&scenario),
        special: vec![Plain],
        seed: scenario.seed,
    }
}

fn strike(setup: &Setup, special: Special, chance: &mut Chance) -> Strike {
    let wave = setup.program.wave;
    let upslope_s = setup.upslope_s.unwrap_or(0.0);
    let mut strike = Strike {
        rest_s: setup.rest_s * chance.between(0.9, 1.2),
        method: Method::Hf {
            delay_s: chance.log_between(LEAST_DELAY_S, setup.delay_s),
        },
        program: setup.program.clone(),
        column: setup.column,
        wander: wander(chance, &wave, setup.mains_hz.unwrap_or(USUAL_MAINS_HZ)),
        arc_s: upslope_s + setup.arc_s * chance.between(1.0, 1.04),
        open_v: setup.open_v,
        upslope_s: setup.upslope_s,
        ..Strike::default()
    };
    if upslope_s > 0.0 {
        strike.program.envelope = vec![knot(0.0, 0.2), knot(upslope_s, 1.0)];
    }
    let direct = !matches!(wave, Wave::Ac { .. });
    match special {
        Slow if upslope_s == 0.0 && !matches!(wave, Wave::Pulse { .. }) => {
            let lasts_s = chance.between(0.03, (0.25 * setup.arc_s).min(0.2));
            let low = chance.between(0.4, 0.7);
            let factor = chance.one_of(&[low, 1.6]);
            strike.program.envelope = vec![
                knot(0.0, factor),
                knot(lasts_s, factor),
                knot(lasts_s + 0.01, 1.0),
            ];
        }
        Tries => strike.tries = tries(chance),
        NoLight => {
            strike.lights = false;
            strike.tries = tries(chance);
            strike.arc_s = chance.between(0.1, 0.5);
        }
        Dropout => strike.dropouts = vec![dropout(setup, chance)],
        Missed if !direct => strike.missed_s = missed_s(setup, chance),
        Weak => {
            let most = (WEAK_PART * setup.run_a).max(2.0 * LEAST_A);
            let amps = chance.log_between(LEAST_A, most);
            strike.program.amps *= amps / setup.run_a;
        }
        _ => {}
    }
    strike
}

fn knot(at_s: f64, factor: f64) -> Knot {
    Knot { at_s, factor }
}

fn dropout(setup: &Setup, chance: &mut Chance) -> Disturbance {
    let (least, most) = match setup.program.half_cycle_s() {
        Some(half) => (
            half * DROPOUT_HALF_CYCLES.0,
            (half * DROPOUT_HALF_CYCLES.1).min(0.1),
        ),
        None => DROPOUT_S,
    };
    Disturbance {
        at_s: setup.upslope_s.unwrap_or(0.0) + setup.arc_s * chance.between(0.4, 0.6),
        // It must be over before the arc is.
        lasts_s: chance
            .log_between(least, most.max(least))
            .min(0.3 * setup.arc_s),
    }
}

fn missed_s(setup: &Setup, chance: &mut Chance) -> Vec<f64> {
    let count = 1 + chance.below(5);
    let step = 0.6 * setup.arc_s / count as f64;
    let first = setup.upslope_s.unwrap_or(0.0) + 0.2 * setup.arc_s;
    (0..count).map(|k| first + step * k as f64).collect()
}
