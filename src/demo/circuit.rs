//! Machine, leads and arc of one start, stepped finely: what a perfect logger would see.

use crate::arc;
use crate::scenario::{Method, Rise, Strike, Wave};

/// Inductance of the output, H.
const INDUCTANCE_H: f64 = 100e-6;
/// Resistance of the leads, Ω.
const LEADS_OHM: f64 = 0.01;
/// Conductance of a gap without arc, S.
const DEAD_S: f64 = 1e-6;
/// Conductance that a spark leaves, S.
const SPARK_S: f64 = 0.05;
/// Least conductance of a burning arc: ignition bursts at every reversal keep it, S.
const KEPT_S: f64 = 0.02;
/// Time constant of a gap losing its conductance when the arc breaks, s.
const BREAK_TAU_S: f64 = 10e-6;
/// Voltage of a touch: constant part, V, and slope, V/A.
const TOUCH_V: f64 = 0.8;
const TOUCH_OHM: f64 = 0.004;
/// Under this current a switched-off arc dies, A.
const DYING_A: f64 = 1.0;

/// One start, finely: clean current and voltage at an even step, from the quiet before it to its end.
pub(super) struct Fine {
    /// Step, s.
    pub dt: f64,
    /// Current, A, positive while the electrode is negative.
    pub amps: Vec<f64>,
    /// Voltage, V, of the same sign.
    pub volts: Vec<f64>,
    /// Whether an arc burns.
    pub arcing: Vec<bool>,
    /// Instants of ignition bursts, s from the first value.
    pub bursts_s: Vec<f64>,
    /// From when to when the machine is on, s.
    pub on_s: (f64, f64),
    /// The strike, s; infinite where it never lights.
    pub strike_s: f64,
}

/// What the circuit is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    /// Switched off.
    Quiet,
    /// This no-load voltage stands across the gap.
    Open(f64),
    /// The tungsten touches, this current is asked for (none: what the program asks).
    Touch(Option<f64>),
    /// An arc burns.
    Arc,
}

/// States in order, each with the instant it begins.
struct Timeline {
    stages: Vec<(f64, State)>,
    strike_s: f64,
    /// The arc that lit is over.
    over_s: f64,
    ends_s: f64,
}

impl Timeline {
    fn of(strike: &Strike) -> Timeline {
        let mut line = Timeline {
            stages: vec![(0.0, State::Quiet)],
            strike_s: f64::INFINITY,
            over_s: f64::INFINITY,
            ends_s: strike.rest_s,
        };
        let no_load = State::Open(strike.open_v.unwrap_or(strike.program.no_load_v));
        match strike.method {
            Method::Hf { delay_s } => line.add(no_load, delay_s),
            Method::Touch {
                before_v, waits_s, ..
            } => line.add(State::Open(before_v), waits_s),
        }
        for failed in &strike.tries {
            line.touch(strike.method);
            line.add(State::Arc, failed.lasts_s);
            line.add(no_load, failed.pause_s);
        }
        if strike.lights {
            line.touch(strike.method);
            line.strike_s = line.ends_s;
            line.burn(strike, no_load);
            line.over_s = line.ends_s;
            if strike.then_open_s > 0.0 {
                line.add(no_load, strike.then_open_s);
            }
        } else {
            line.add(no_load, strike.arc_s);
        }
        line.add(State::Quiet, 0.0);
        line
    }

    fn add(&mut self, state: State, lasts_s: f64) {
        self.stages.push((self.ends_s, state));
        self.ends_s += lasts_s;
    }

    fn touch(&mut self, method: Method) {
        if let Method::Touch {
            touch_s, touch_a, ..
        } = method
        {
            self.add(State::Touch(Some(touch_a)), touch_s);
        }
    }

    /// The arc that lights, with everything that happens to it.
    fn burn(&mut self, strike: &Strike, no_load: State) {
        let mut upsets: Vec<(f64, f64, State)> = strike
            .dropouts
            .iter()
            .map(|u| (u.at_s, u.lasts_s, no_load))
            .chain(
                strike
                    .touches
                    .iter()
                    .map(|u| (u.at_s, u.lasts_s, State::Touch(None))),
            )
            .collect();
        upsets.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (at_s, lasts_s, state) in upsets {
            let burns_s = self.strike_s + at_s - self.ends_s;
            assert!(burns_s > 0.0, "upsets overlap");
            self.add(State::Arc, burns_s);
            self.add(state, lasts_s);
        }
        let burns_s = self.strike_s + strike.arc_s - self.ends_s;
        assert!(burns_s > 0.0, "an upset outlasts the arc");
        self.add(State::Arc, burns_s);
    }

    /// Bursts at twice the mains frequency while the gap is open, the last one at the breakdown, and those that go on.
    fn bursts_s(&self, strike: &Strike, mains_hz: f64) -> Vec<f64> {
        let step = 0.5 / mains_hz;
        let mut bursts = Vec::new();
        for pair in self.stages.windows(2) {
            let ((from, state), (to, _)) = (pair[0], pair[1]);
            if matches!(state, State::Open(_)) && from < self.over_s {
                let count = ((to - from) / step) as usize;
                bursts.extend((0..=count).rev().map(|k| to - k as f64 * step));
            }
        }
        bursts.extend(self.sparks_s(strike, step));
        bursts.sort_by(f64::total_cmp);
        bursts
    }

    /// Bursts under the burning arc: every `step_s` seconds, on AC at every reversal.
    fn sparks_s(&self, strike: &Strike, step_s: f64) -> Vec<f64> {
        let lasts_s = strike.sparks_s.min(self.over_s - self.strike_s);
        if !self.strike_s.is_finite() || lasts_s <= 0.0 {
            return Vec::new();
        }
        let (begins_s, marks, step_s) = match strike.program.wave {
            Wave::Ac {
                hz, en_share, lead, ..
            } => (
                lead.map_or(0.0, |l| l.lasts_s),
                vec![0.0, en_share / hz],
                1.0 / hz,
            ),
            _ => (0.0, vec![0.0], step_s),
        };
        let count = ((lasts_s - begins_s).max(0.0) / step_s) as usize;
        (1..count)
            .flat_map(|k| marks.iter().map(move |mark| mark + k as f64 * step_s))
            .map(|t| self.strike_s + begins_s + t)
            .collect()
    }
}

/// Runs one start; `quiet_s` of quiet follows it.
pub(super) fn run(strike: &Strike, mains_hz: f64, dt: f64, quiet_s: f64) -> Fine {
    let timeline = Timeline::of(strike);
    let steps = ((timeline.ends_s + quiet_s) / dt).ceil() as usize;
    let mut circuit = Circuit::new(strike, &timeline, dt);
    let mut fine = Fine {
        dt,
        amps: Vec::with_capacity(steps),
        volts: Vec::with_capacity(steps),
        arcing: Vec::with_capacity(steps),
        bursts_s: match strike.method {
            Method::Hf { .. } => timeline.bursts_s(strike, mains_hz),
            Method::Touch { .. } => Vec::new(),
        },
        on_s: (strike.rest_s, timeline.ends_s),
        strike_s: timeline.strike_s,
    };
    for n in 0..steps {
        let state = circuit.step(n as f64 * dt);
        fine.amps.push(circuit.amps);
        fine.volts.push(circuit.amps / circuit.g);
        fine.arcing.push(state == State::Arc);
    }
    fine
}

/// The circuit at an instant.
struct Circuit<'a> {
    strike: &'a Strike,
    timeline: &'a Timeline,
    stage: usize,
    dt: f64,
    /// exp(−dt/τ) of the column, of a breaking gap, of the cathode warming up.
    decay: [f64; 3],
    amps: f64,
    g: f64,
    /// How cold the cathode is, 1 at first.
    cold: f64,
    /// What the arc's growing length adds, V.
    stretched_v: f64,
    /// Slope of the current that the second-order regulator has built up, A/s.
    slope: f64,
    was_positive: bool,
    dead_half: bool,
    missed: usize,
    burnt: bool,
}

impl<'a> Circuit<'a> {
    fn new(strike: &'a Strike, timeline: &'a Timeline, dt: f64) -> Self {
        let decay = |tau: f64| libm::exp(-dt / tau);
        Circuit {
            strike,
            timeline,
            stage: 0,
            dt,
            decay: [
                decay(arc::TAU_S),
                decay(BREAK_TAU_S),
                decay(strike.column.warm_s),
            ],
            amps: 0.0,
            g: DEAD_S,
            cold: 1.0,
            stretched_v: 0.0,
            slope: 0.0,
            was_positive: false,
            dead_half: false,
            missed: 0,
            burnt: false,
        }
    }

    /// Goes one step on to an instant and says in what state.
    fn step(&mut self, t: f64) -> State {
        let stages = &self.timeline.stages;
        while self.stage + 1 < stages.len() && stages[self.stage + 1].0 <= t {
            self.stage += 1;
        }
        let since = match self.timeline.strike_s.is_finite() {
            true => t - self.timeline.strike_s,
            false => 0.0,
        };
        if let Some(stretch) = self.strike.stretch {
            let part = (since - self.strike.arc_s) / stretch.lasts_s + 1.0;
            self.stretched_v = stretch.by_v * part.clamp(0.0, 1.0);
        }
        let state = self.reversal(stages[self.stage].1, since);
        let emf = self.emf(state, since);
        let share = self.dt / INDUCTANCE_H;
        let loaded = LEADS_OHM + 1.0 / self.g;
        self.amps = (self.amps + share * emf) / (1.0 + share * loaded);
        self.conductance(state);
        // The machine's protection takes what would lift the voltage over no-load.
        let most = self.g * self.strike.program.no_load_v;
        self.amps = self.amps.clamp(-most, most);
        state
    }

    /// Lets a half-cycle fail that is to be missed.
    fn reversal(&mut self, state: State, since: f64) -> State {
        let positive = self.strike.program.electrode_positive(since.max(0.0));
        if state == State::Arc && positive != self.was_positive {
            let due = self
                .strike
                .missed_s
                .get(self.missed)
                .is_some_and(|at| *at <= since);
            self.dead_half = positive && due;
            self.missed += usize::from(self.dead_half);
        }
        self.was_positive = positive;
        match state == State::Arc && self.dead_half {
            true => State::Open(self.strike.program.no_load_v),
            false => state,
        }
    }

    /// Voltage that the machine drives, V.
    fn emf(&mut self, state: State, since: f64) -> f64 {
        let no_load = self.strike.program.no_load_v;
        let asked = match state {
            State::Quiet => return 0.0,
            State::Open(v) => {
                self.slope = 0.0;
                return if self.was_positive { -v } else { v };
            }
            State::Touch(Some(amps)) => match self.was_positive {
                true => -amps,
                false => amps,
            },
            _ => self.strike.program.asked(since.max(0.0)),
        };
        let wanted = match self.strike.program.rise {
            Rise::First { tau_s } => (asked - self.amps) / tau_s,
            Rise::Second { omega, zeta } => self.slope - 2.0 * zeta * omega * self.amps,
        };
        let load = LEADS_OHM * self.amps + self.amps / self.g;
        let lowest = match self.strike.program.half_cycle_s() {
            Some(_) => -no_load,
            None if self.was_positive => -no_load,
            None => 0.0,
        };
        let highest = match self.strike.program.half_cycle_s() {
            None if self.was_positive => 0.0,
            _ => no_load,
        };
        let free = INDUCTANCE_H * wanted + load;
        let emf = free.clamp(lowest, highest);
        if let Rise::Second { omega, .. } = self.strike.program.rise
            && emf == free
        {
            self.slope += omega * omega * (asked - self.amps) * self.dt;
        }
        emf
    }

    /// Conductance of the gap after the step.
    fn conductance(&mut self, state: State) {
        let [column, breaking, warming] = self.decay;
        self.g = match state {
            State::Touch(_) => {
                let amps = self.amps.abs().max(DYING_A);
                amps / (TOUCH_V + TOUCH_OHM * amps)
            }
            State::Arc => {
                if !self.burnt {
                    self.g = self.g.max(SPARK_S);
                }
                self.cold *= warming;
                let arc_v = self.arc_v();
                arc::blended(self.g, self.amps, arc_v, column).max(KEPT_S)
            }
            State::Quiet if self.amps.abs() > DYING_A => {
                let arc_v = self.arc_v();
                arc::blended(self.g, self.amps, arc_v, column)
            }
            State::Quiet | State::Open(_) => (self.g * breaking).max(DEAD_S),
        };
        self.burnt = state == State::Arc;
    }

    fn arc_v(&self) -> f64 {
        let c = &self.strike.column;
        c.base_v + c.slope_v_per_a * self.amps.abs() + c.cold_v * self.cold + self.stretched_v
    }
}
