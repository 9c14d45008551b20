//! Every kind of start a TIG machine makes, each drawn at random inside what is real and inside what a rate can show.

use crate::chance::Chance;
use crate::scenario::{
    Column, Disturbance, Knot, Lead, Method, Program, Rise, Shape, Strike, Try, Wander, Wave,
};

/// A kind of start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// High frequency, direct current, first try.
    Plain,
    /// Some tries fail first.
    Retries,
    /// It goes out for a moment once or more.
    Dropouts,
    /// The tungsten dips.
    Touches,
    /// Direct current, electrode positive.
    Positive,
    /// 3 to 15 A.
    Low,
    /// 200 to 400 A.
    High,
    /// More current at first.
    HotStart,
    /// The current rises over a set time.
    UpSlope,
    /// The pedal moves.
    Pedal,
    /// Touch at a few amps, drawn off.
    Lift,
    /// Touch at full current, drawn off.
    Scratch,
    /// Pulse of 0.3 to 2.2 Hz: a window of 1 s holds no more than two.
    SlowPulse,
    /// Pulse of 3 to 500 Hz.
    FastPulse,
    /// Square AC.
    AcSquare,
    /// AC with sloping flanks.
    AcSoftSquare,
    /// Sine AC.
    AcSine,
    /// Triangular AC.
    AcTriangle,
    /// AC begun by direct current of either sign.
    AcLead,
    /// AC with half-cycles that do not reignite.
    AcMissed,
    /// AC that goes out for a moment.
    AcDropouts,
    /// Tries only.
    NeverLights,
}

impl Kind {
    /// All of them.
    pub const ALL: &'static [Kind] = &[
        Kind::Plain,
        Kind::Retries,
        Kind::Dropouts,
        Kind::Touches,
        Kind::Positive,
        Kind::Low,
        Kind::High,
        Kind::HotStart,
        Kind::UpSlope,
        Kind::Pedal,
        Kind::Lift,
        Kind::Scratch,
        Kind::SlowPulse,
        Kind::FastPulse,
        Kind::AcSquare,
        Kind::AcSoftSquare,
        Kind::AcSine,
        Kind::AcTriangle,
        Kind::AcLead,
        Kind::AcMissed,
        Kind::AcDropouts,
        Kind::NeverLights,
    ];

    /// A few words for it.
    pub fn name(self) -> &'static str {
        match self {
            Kind::Plain => "plain",
            Kind::Retries => "retries",
            Kind::Dropouts => "dropouts",
            Kind::Touches => "touches",
            Kind::Positive => "electrode positive",
            Kind::Low => "low current",
            Kind::High => "high current",
            Kind::HotStart => "hot start",
            Kind::UpSlope => "up-slope",
            Kind::Pedal => "pedal",
            Kind::Lift => "lift",
            Kind::Scratch => "scratch",
            Kind::SlowPulse => "slow pulse",
            Kind::FastPulse => "pulse",
            Kind::AcSquare => "AC square",
            Kind::AcSoftSquare => "AC soft square",
            Kind::AcSine => "AC sine",
            Kind::AcTriangle => "AC triangle",
            Kind::AcLead => "AC after DC",
            Kind::AcMissed => "AC missed half-cycles",
            Kind::AcDropouts => "AC dropouts",
            Kind::NeverLights => "never lights",
        }
    }

    /// A start of this kind that a recording of this rate can show.
    pub fn strike(self, chance: &mut Chance, rate_hz: f64, mains_hz: f64) -> Strike {
        let mut strike = plain(chance);
        match self {
            Kind::Plain => {}
            Kind::Retries => strike.tries = tries(chance),
            Kind::Dropouts => strike.dropouts = upsets(chance, 0.001, 0.03),
            Kind::Touches => strike.touches = upsets(chance, 0.004, 0.06),
            Kind::Positive => strike.program.wave = Wave::Positive,
            Kind::Low => strike.program.amps = chance.log_between(3.0, 15.0),
            Kind::High => strike.program.amps = chance.between(200.0, 400.0),
            Kind::HotStart => {
                let factor = chance.between(1.25, 1.8);
                let lasts = chance.between(0.03, 0.2);
                strike.program.envelope = knots(&[(lasts, factor), (lasts + 0.01, 1.0)]);
            }
            Kind::UpSlope => {
                let from = chance.between(0.3, 0.6);
                let lasts = chance.between(0.1, 0.4);
                strike.program.envelope = knots(&[(0.0, from), (lasts, 1.0)]);
            }
            Kind::Pedal => strike.program.envelope = pedal(chance),
            Kind::Lift => strike.method = lift(chance),
            Kind::Scratch => strike.method = scratch(chance, strike.program.amps),
            Kind::SlowPulse => strike.program.wave = pulse(chance, 0.3, 2.2),
            Kind::FastPulse => {
                strike.program.wave = pulse(chance, 3.0, (rate_hz / 40.0).min(500.0));
            }
            Kind::NeverLights => {
                strike.lights = false;
                strike.tries = tries(chance);
                strike.arc_s = chance.between(0.1, 0.6);
            }
            _ => self.alternate(&mut strike, chance, rate_hz),
        }
        strike.wander = wander(chance, &strike.program.wave, mains_hz);
        strike
    }

    fn alternate(self, strike: &mut Strike, chance: &mut Chance, rate_hz: f64) {
        let shape = match self {
            Kind::AcSoftSquare => Shape::SoftSquare,
            Kind::AcSine => Shape::Sine,
            Kind::AcTriangle => Shape::Triangle,
            _ => Shape::Square,
        };
        let hz = chance.log_between(20.0, (rate_hz / 60.0).min(400.0));
        // The shorter half takes the machine 0.6 ms and the logger 10 samples at least.
        let shortest = (0.6e-3f64.max(10.0 / rate_hz) * hz).min(0.4);
        let calm = matches!(self, Kind::AcMissed | Kind::AcDropouts);
        let en_share = match calm {
            true => chance.between(0.55, 0.75),
            false => chance.between(0.3f64.max(shortest), 0.99f64.min(1.0 - shortest)),
        };
        strike.program.rise = Rise::First { tau_s: 0.1e-3 };
        strike.program.amps = chance.log_between(25.0, 300.0);
        let lead = (self == Kind::AcLead).then(|| Lead {
            positive: chance.happens(0.5),
            amps: strike.program.amps * chance.between(0.5, 1.0),
            lasts_s: chance.between(0.02, 0.08),
        });
        strike.program.wave = Wave::Ac {
            hz,
            en_share,
            ep_ratio: chance.between(0.6, 1.3),
            shape,
            lead,
        };
        if self == Kind::AcMissed {
            let step = (4.0 / hz).max(0.02);
            let count = 1 + chance.below(8.min((0.7 / step) as usize));
            strike.missed_s = (0..count).map(|k| 0.2 + step * k as f64).collect();
        }
        if self == Kind::AcDropouts {
            strike.dropouts = upsets(chance, 2.0 / hz, (4.0 / hz + 0.01).min(0.12));
        }
    }
}

/// A good start of everyday.
pub(super) fn plain(chance: &mut Chance) -> Strike {
    let rise = match chance.happens(0.6) {
        true => Rise::First {
            tau_s: chance.log_between(0.1e-3, 1e-3),
        },
        false => Rise::Second {
            omega: chance.log_between(4000.0, 12_000.0),
            zeta: match chance.happens(0.4) {
                true => chance.between(0.42, 0.5),
                false => chance.between(0.7, 1.0),
            },
        },
    };
    Strike {
        rest_s: chance.between(0.2, 0.3),
        method: Method::Hf {
            delay_s: chance.log_between(0.004, 0.3),
        },
        program: Program {
            rise,
            no_load_v: chance.between(60.0, 100.0),
            ..Program::steady(chance.log_between(15.0, 200.0))
        },
        column: Column {
            base_v: chance.between(8.5, 12.0),
            slope_v_per_a: chance.between(0.005, 0.02),
            cold_v: chance.between(0.0, 2.5),
            warm_s: chance.log_between(0.01, 0.15),
        },
        arc_s: chance.between(1.12, 1.25),
        ..Strike::default()
    }
}

/// Tries before a strike that lights: as often, as long and as far apart as chance has them.
pub fn tries(chance: &mut Chance) -> Vec<Try> {
    (0..=chance.below(4))
        .map(|_| Try {
            lasts_s: chance.between(0.002, 0.012),
            pause_s: chance.between(0.01, 0.3),
        })
        .collect()
}

/// One to three upsets, well apart, after the arc has settled.
pub(super) fn upsets(chance: &mut Chance, shortest_s: f64, longest_s: f64) -> Vec<Disturbance> {
    (0..=chance.below(3))
        .map(|k| Disturbance {
            at_s: 0.15 + 0.25 * k as f64 + chance.between(0.0, 0.04),
            lasts_s: chance.log_between(shortest_s, longest_s),
        })
        .collect()
}

/// Two to four moves between 75 and 125 % at no regular times, the first after a while.
fn pedal(chance: &mut Chance) -> Vec<Knot> {
    let mut points = vec![(0.15, 1.0)];
    let mut at = 0.15;
    for _ in 0..2 + chance.below(3) {
        at += chance.between(0.06, 0.4);
        points.push((at, chance.between(0.75, 1.25)));
    }
    knots(&points)
}

pub(super) fn lift(chance: &mut Chance) -> Method {
    Method::Touch {
        before_v: chance.between(8.0, 15.0),
        waits_s: chance.between(0.05, 0.3),
        touch_s: chance.between(0.04, 0.2),
        touch_a: chance.between(9.0, 25.0),
    }
}

fn scratch(chance: &mut Chance, amps: f64) -> Method {
    Method::Touch {
        before_v: chance.between(60.0, 90.0),
        waits_s: chance.between(0.05, 0.3),
        touch_s: chance.between(0.004, 0.05),
        touch_a: amps,
    }
}

fn pulse(chance: &mut Chance, low_hz: f64, high_hz: f64) -> Wave {
    Wave::Pulse {
        hz: chance.log_between(low_hz, high_hz),
        background: chance.between(0.25, 0.6),
        duty: chance.between(0.3, 0.7),
    }
}

/// One or three tones that neither hum nor the pulse nor AC hides.
pub fn wander(chance: &mut Chance, wave: &Wave, mains_hz: f64) -> Wander {
    let (grids, highest) = match *wave {
        Wave::Pulse { hz, .. } => (vec![mains_hz, hz], 150.0),
        Wave::Ac { hz, .. } => (vec![mains_hz], (hz / 3.0 * 0.8).min(150.0)),
        _ => (vec![mains_hz], 150.0),
    };
    let lowest = f64::min(6.0, 0.7 * highest);
    // Tones closer than that beat over most of the window, and no spectrum could say how strong they are.
    let count = if highest > 30.0 {
        chance.one_of(&[1, 3])
    } else {
        1
    };
    let mut tones_hz: Vec<f64> = Vec::new();
    for _ in 0..count {
        let clear = |hz: f64| {
            let harmonic = |grid: &f64| (hz - grid * (hz / grid).round().max(1.0)).abs();
            let other = |tone: &f64| (hz - tone).abs();
            let nearest = grids.iter().map(harmonic).fold(6.0, f64::min);
            tones_hz.iter().map(other).fold(nearest, f64::min)
        };
        let drawn: Vec<f64> = (0..60)
            .map(|_| chance.log_between(lowest, highest))
            .collect();
        let best = drawn
            .into_iter()
            .reduce(|a, b| if clear(b) > clear(a) { b } else { a });
        tones_hz.extend(best);
    }
    Wander {
        v_rms: chance.log_between(0.1, 0.6),
        tones_hz,
    }
}

pub(super) fn knots(points: &[(f64, f64)]) -> Vec<Knot> {
    points
        .iter()
        .map(|&(at_s, factor)| Knot { at_s, factor })
        .collect()
}
