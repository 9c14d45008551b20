//! What is to be simulated: a recording as a list of starts and a logger that records them.

use crate::logger::LoggerModel;

/// A recording to be made.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// Fixes every random number.
    pub seed: u64,
    /// Samples a second.
    pub rate_hz: f64,
    /// Mains frequency, Hz: ignition bursts come at twice of it, hum at it.
    pub mains_hz: f64,
    /// The starts, in order.
    pub strikes: Vec<Strike>,
    /// Quiet after the last one, s.
    pub tail_s: f64,
    /// How the logger soils what it records.
    pub logger: LoggerModel,
    /// Whether there is a voltage trace.
    pub voltage: bool,
}

/// One start to be simulated. Times without other word are seconds from the strike: the instant at which the
/// circuit of the attempt that lights begins to arc.
#[derive(Debug, Clone)]
pub struct Strike {
    /// Quiet before it, s.
    pub rest_s: f64,
    /// How the arc is begun.
    pub method: Method,
    /// Attempts that fail before the one that lights, each from its breakdown.
    pub tries: Vec<Try>,
    /// Never lights where `false`; the circuit then stays open for `arc_s` after the last try.
    pub lights: bool,
    /// The current asked of the machine.
    pub program: Program,
    /// The arc's voltage.
    pub column: Column,
    /// Arc-length wander of the voltage.
    pub wander: Wander,
    /// The arc goes out and comes back.
    pub dropouts: Vec<Disturbance>,
    /// The tungsten touches.
    pub touches: Vec<Disturbance>,
    /// The first electrode-positive half-cycle after each of these instants does not reignite (AC).
    pub missed_s: Vec<f64>,
    /// The current is switched off this long after the strike, s.
    pub arc_s: f64,
    /// Voltage of the open circuit where it is reduced, V; the machine still drives with its no-load voltage.
    pub open_v: Option<f64>,
    /// The circuit stays open this long after the arc went out, s: the trigger is still held.
    pub then_open_s: f64,
    /// The torch is drawn away before the arc goes out.
    pub stretch: Option<Stretch>,
    /// Ignition bursts go on this long after the strike, s: at twice the mains frequency, on AC at every reversal.
    pub sparks_s: f64,
    /// The ignition's capacitor discharges into the arc at the strike.
    pub discharge: Option<Discharge>,
    /// Resistance of the leads that lie inside the voltage measured, Ω.
    pub lead_ohm: f64,
    /// Up-slope that the run sheet states, s.
    pub upslope_s: Option<f64>,
}

/// The arc grows longer until it goes out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// How long that takes, s.
    pub lasts_s: f64,
    /// How much more voltage the arc has at its end, V.
    pub by_v: f64,
}

/// A pulse of current on top of the machine's, half a sine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Discharge {
    /// Peak, A.
    pub amps: f64,
    /// s.
    pub lasts_s: f64,
}

/// How the arc is begun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// High-frequency bursts across the gap; breakdown comes after a delay, s.
    Hf {
        /// From the circuit opening up to the first breakdown, s.
        delay_s: f64,
    },
    /// The tungsten touches the work and is drawn off.
    Touch {
        /// Voltage before the touch, V: a few volts where the machine only senses, its no-load voltage where not.
        before_v: f64,
        /// From that voltage's onset to the touch, s.
        waits_s: f64,
        /// How long it touches, s.
        touch_s: f64,
        /// Current while it touches, A.
        touch_a: f64,
    },
}

/// An attempt that fails.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Try {
    /// How long it arcs, s.
    pub lasts_s: f64,
    /// How long the circuit is open after it, s.
    pub pause_s: f64,
}

/// Something that happens to a burning arc.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disturbance {
    /// When it begins, s.
    pub at_s: f64,
    /// How long it lasts, s.
    pub lasts_s: f64,
}

/// The arc's voltage: base + slope·|i| + cold·exp(−t/warm), t from the first arcing on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Part that does not depend on the current, V.
    pub base_v: f64,
    /// Slope, V/A.
    pub slope_v_per_a: f64,
    /// More voltage on a cold cathode, V.
    pub cold_v: f64,
    /// Time constant of the cathode warming up, s.
    pub warm_s: f64,
}

/// Wander of the voltage: a sum of tones whose rms over [t_settled, t_lit + 1 s] is exactly this.
#[derive(Debug, Clone, PartialEq)]
pub struct Wander {
    /// V rms over that window, its mean taken away.
    pub v_rms: f64,
    /// Frequency of each tone, Hz; all of the same amplitude.
    pub tones_hz: Vec<f64>,
}

/// The current asked of the machine.
#[derive(Debug, Clone, PartialEq)]
pub struct Program {
    /// Level that the envelope multiplies, A: steady current, pulse peak, AC amplitude in the electrode-negative half.
    pub amps: f64,
    /// Factor on the level over time: straight lines between knots, flat outside; empty means 1.
    /// Up-slope, hot start, pedal and down-slope are all envelopes.
    pub envelope: Vec<Knot>,
    /// Its course besides.
    pub wave: Wave,
    /// How the machine gets to what is asked of it.
    pub rise: Rise,
    /// No-load voltage, V.
    pub no_load_v: f64,
    /// What the rectifier leaves on the current (DC).
    pub ripple: Option<Ripple>,
    /// Pulses of alternating current.
    pub ac_pulse: Option<AcPulse>,
}

/// Ripple of a rectifier, in proportion to the current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ripple {
    /// Peak to peak, as a part of the current's mean.
    pub share: f64,
    /// Frequency, Hz.
    pub hz: f64,
    /// Its course.
    pub wave: RippleWave,
}

/// Course of a ripple.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RippleWave {
    /// Sine.
    Sine,
    /// Sawtooth.
    Saw,
    /// Arches of a rectified sine.
    Rectified,
}

/// Alternating current whose amplitude pulses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AcPulse {
    /// Frequency, Hz.
    pub hz: f64,
    /// Background as a part of the peak.
    pub background: f64,
    /// Part of the period at the peak.
    pub duty: f64,
}

/// A point of an envelope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knot {
    /// When, s.
    pub at_s: f64,
    /// Factor on the level.
    pub factor: f64,
}

/// Course of the current besides its envelope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Wave {
    /// Direct current, electrode negative.
    Negative,
    /// Direct current, electrode positive.
    Positive,
    /// Direct current, electrode negative, pulsed.
    Pulse {
        /// Frequency, Hz.
        hz: f64,
        /// Background as a part of the peak.
        background: f64,
        /// Part of the period at the peak.
        duty: f64,
    },
    /// Alternating current.
    Ac {
        /// Frequency, Hz.
        hz: f64,
        /// Electrode-negative part of the period.
        en_share: f64,
        /// Amplitude of the electrode-positive half over that of the electrode-negative one.
        ep_ratio: f64,
        /// Shape of a half-cycle.
        shape: Shape,
        /// Direct current before it begins to alternate.
        lead: Option<Lead>,
    },
}

/// Direct current that begins an AC arc.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// Electrode positive, to heat or round the tip.
    pub positive: bool,
    /// A.
    pub amps: f64,
    /// s.
    pub lasts_s: f64,
}

/// Shape of a half-cycle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Square as far as the machine can.
    Square,
    /// Square with sloping flanks, a sixth of the half-cycle each.
    SoftSquare,
    /// Half a sine.
    Sine,
    /// Triangle.
    Triangle,
}

/// How the machine's regulator gets to what is asked of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rise {
    /// First order.
    First {
        /// Time constant, s.
        tau_s: f64,
    },
    /// Second order without a zero.
    Second {
        /// Natural frequency, rad/s.
        omega: f64,
        /// Damping.
        zeta: f64,
    },
}

impl Default for Column {
    fn default() -> Self {
        Column {
            base_v: 8.6,
            slope_v_per_a: 0.018,
            cold_v: 1.5,
            warm_s: 0.04,
        }
    }
}

impl Default for Strike {
    /// A clean 80 A start by high frequency.
    fn default() -> Self {
        Strike {
            rest_s: 0.3,
            method: Method::Hf { delay_s: 0.04 },
            tries: Vec::new(),
            lights: true,
            program: Program::steady(80.0),
            column: Column::default(),
            wander: Wander {
                v_rms: 0.15,
                tones_hz: vec![11.0, 17.0, 29.0],
            },
            dropouts: Vec::new(),
            touches: Vec::new(),
            missed_s: Vec::new(),
            arc_s: 1.2,
            open_v: None,
            then_open_s: 0.0,
            stretch: None,
            sparks_s: 0.0,
            discharge: None,
            lead_ohm: 0.0,
            upslope_s: None,
        }
    }
}

impl Default for Scenario {
    /// One clean 80 A start at 20 kHz by a clean logger.
    fn default() -> Self {
        Scenario {
            seed: 1,
            rate_hz: 20_000.0,
            mains_hz: 60.0,
            strikes: vec![Strike::default()],
            tail_s: 0.3,
            logger: LoggerModel::perfect(),
            voltage: true,
        }
    }
}
