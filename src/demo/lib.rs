//! Recordings whose truth is known: an arc model, a machine, a logger, and the invented shop.
//!
//! Everything here is fixed by a seed, byte for byte and on every platform: transcendental functions come from `libm`,
//! random numbers from ChaCha.

pub mod arc;
mod chance;
mod circuit;
pub mod classes;
mod fault;
mod kinds;
mod logger;
mod overlay;
mod program;
mod scenario;
mod setting;
pub mod shop;
mod truth;
mod wander;

pub use chance::Chance;
pub use fault::{During, Fault};
pub use kinds::Kind;
pub use kinds::{tries, wander};
pub use logger::{ChannelModel, HfShape, LoggerModel};
pub use scenario::{
    AcPulse, Column, Discharge, Disturbance, Knot, Lead, Method, Program, Ripple, RippleWave, Rise,
    Scenario, Shape, Stretch, Strike, Try, Wander, Wave,
};
pub use truth::{TruthMore, TruthStart};

use circuit::Fine;
use setting::Setting;
pub use setting::open_s;
use truth::Seen;

/// Longest step of the simulation, s.
const FINEST_S: f64 = 5e-6;
/// Quiet that belongs to the end of each start, s.
const QUIET_S: f64 = 0.05;
/// Streams of chance.
const AMPS_STREAM: u64 = 1;
const VOLTS_STREAM: u64 = 2;
const WANDER_STREAM: u64 = 16;

/// A made recording and what is true of it.
#[derive(Debug, Clone)]
pub struct Made {
    /// Samples a second.
    pub rate_hz: f64,
    /// Current as recorded, A, positive while the electrode is negative.
    pub amps: Vec<f64>,
    /// Voltage as recorded, V; empty without a voltage trace.
    pub volts: Vec<f64>,
    /// What is true of every start, in order.
    pub truth: Vec<TruthStart>,
    /// From when to when the machine is on, start by start, s from the first sample.
    pub on_s: Vec<(f64, f64)>,
    /// From when to when an arc burns, s.
    pub arcs_s: Vec<(f64, f64)>,
}

/// Makes a recording.
///
/// # Panics
/// Where the scenario contradicts itself: upsets that overlap, or outlast the arc.
pub fn simulate(scenario: &Scenario) -> Made {
    let finer = (1.0 / (scenario.rate_hz * FINEST_S)).ceil().max(1.0) as usize;
    let dt = 1.0 / (scenario.rate_hz * finer as f64);
    let mut made = Made {
        rate_hz: scenario.rate_hz,
        amps: Vec::new(),
        volts: Vec::new(),
        truth: Vec::new(),
        on_s: Vec::new(),
        arcs_s: Vec::new(),
    };
    let mut marks = Marks::default();
    let seen = Seen {
        noise_a: scenario.logger.amps.noise,
        voltage: scenario.voltage,
    };
    for (number, strike) in scenario.strikes.iter().enumerate() {
        let from_s = made.amps.len() as f64 / scenario.rate_hz;
        let mut fine = circuit::run(strike, scenario.mains_hz, dt, QUIET_S);
        if let Some(ripple) = strike.program.ripple {
            overlay::ripple(&mut fine, ripple, strike.column.slope_v_per_a);
        }
        let still = truth::truth(strike, &fine, seen);
        let mut chance = Chance::new(scenario.seed, WANDER_STREAM + number as u64);
        wander::add(&mut fine, &strike.wander, &still, &mut chance);
        made.truth
            .push(truth::truth(strike, &fine, seen).later(from_s));
        overlay::besides(&mut fine, strike);
        made.amps.extend(fine.amps.iter().step_by(finer));
        made.volts.extend(fine.volts.iter().step_by(finer));
        marks.add(&fine, from_s);
    }
    let tail = (scenario.tail_s * scenario.rate_hz) as usize;
    made.amps.resize(made.amps.len() + tail, 0.0);
    made.volts.resize(made.amps.len(), 0.0);
    record(scenario, &mut made, &marks);
    (made.on_s, made.arcs_s) = (marks.on_s, marks.arcs_s);
    made
}

/// Instants that the logger's faults go by, s from the recording's first sample.
#[derive(Default)]
struct Marks {
    bursts_s: Vec<f64>,
    on_s: Vec<(f64, f64)>,
    arcs_s: Vec<(f64, f64)>,
}

impl Marks {
    /// Those of one start, which begins at `from_s`.
    fn add(&mut self, fine: &Fine, from_s: f64) {
        self.bursts_s
            .extend(fine.bursts_s.iter().map(|t| t + from_s));
        self.on_s.push((fine.on_s.0 + from_s, fine.on_s.1 + from_s));
        let mut from = 0;
        for same in fine.arcing.chunk_by(|a, b| a == b) {
            let to = from + same.len();
            if same[0] {
                let at = |k: usize| from_s + k as f64 * fine.dt;
                self.arcs_s.push((at(from), at(to)));
            }
            from = to;
        }
    }
}

/// Applies the logger model: noise, offset, faults, coupling, clipping, quantisation.
fn record(scenario: &Scenario, made: &mut Made, marks: &Marks) {
    let setting = Setting {
        rate_hz: scenario.rate_hz,
        mains_hz: scenario.mains_hz,
        bursts_s: &marks.bursts_s,
        on_s: &marks.on_s,
        arcs_s: &marks.arcs_s,
        bits: scenario.logger.bits,
    };
    let chance = |stream| Chance::new(scenario.seed, stream);
    let logger = &scenario.logger;
    logger
        .amps
        .record(&mut made.amps, &setting, &mut chance(AMPS_STREAM));
    if scenario.voltage {
        logger
            .volts
            .record(&mut made.volts, &setting, &mut chance(VOLTS_STREAM));
    } else {
        made.volts.clear();
    }
}

#[cfg(test)]
mod tests;
