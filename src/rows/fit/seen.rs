//! What the measured starts say of the sheet and of the tip: a kind with its figures, and its possible causes.

use serde::Serialize;

use crate::fit::concern::Level;
use crate::job::run::StartMethod;
use crate::job::tip_state::TipState;

/// Why starts may go as they went; which one it was no recording proves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Too long a gap for the strike.
    LongGap,
    /// Little gas at the tip while it is struck: flow, pre-flow, cup, draught.
    Gas,
    /// The spark gap of the high-frequency unit, or its earth.
    SparkGap,
    /// Oxide on the work or on the tip.
    Oxide,
    /// A tip that is worn, contaminated or ground badly.
    Tip,
    /// The work clamp.
    Clamp,
    /// The torch was moved: the arc length walked.
    Hand,
    /// A taper that lets the arc root wander: marks, a wide flat, a ball.
    Grind,
    /// The electrode is too thick for the amps.
    ThickElectrode,
    /// The machine's start setting.
    HotStart,
    /// The pedal, or a slope.
    Pedal,
    /// The scale of the logger.
    Scale,
    /// The machine's own setting is out.
    Machine,
    /// The balance, or how the machine shows it.
    Balance,
}

/// What was seen in the starts of one run.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs)] // Each kind says what its figures are.
pub enum Seen {
    /// AC where DC is written down, or the other way round.
    Process { ac: bool, written: &'static str },
    /// The electrode-negative share measured, percent, and the one written down.
    Balance {
        measured_pct: f64,
        set_pct: Option<f64>,
    },
    /// It ran at other amps than set.
    Amps {
        ran_a: f64,
        set_a: f64,
        causes: Vec<Cause>,
    },
    /// It lit at other amps than set.
    LitAmps { lit_a: f64, set_a: f64 },
    /// The current rose faster or slower than the up-slope written down, s (0 where there is none).
    Slope { rise_ms: f64, upslope_s: f64 },
    /// It touched before it lit, or did not, against what is written down.
    Method { written: StartMethod, touch_ms: f64 },
    /// Starts of which the wait for the first current is the longest part.
    Late {
        starts: usize,
        of: usize,
        delay_ms: f64,
        causes: Vec<Cause>,
    },
    /// Starts that took more than one attempt.
    Retries {
        starts: usize,
        of: usize,
        causes: Vec<Cause>,
    },
    /// Starts that wandered; `drift_v` is the median slope of the arc voltage, V/s.
    Wander {
        starts: usize,
        of: usize,
        drift_v: Option<f64>,
        causes: Vec<Cause>,
    },
    /// Starts that dropped out.
    Dropouts {
        starts: usize,
        of: usize,
        causes: Vec<Cause>,
    },
    /// Starts that shot past the run level.
    Overshoot {
        starts: usize,
        of: usize,
        overshoot_pct: f64,
        causes: Vec<Cause>,
    },
    /// The welder's eye on the tip, and the median score of the first and the second half.
    Tip {
        text: String,
        state: Option<TipState>,
        before: f64,
        later: f64,
        gone_off: bool,
    },
}

impl Seen {
    /// How much it asks for.
    pub fn level(&self) -> Level {
        match self {
            Seen::Process { .. } => Level::Change,
            Seen::LitAmps { .. } | Seen::Overshoot { .. } => Level::Note,
            Seen::Tip {
                gone_off: false, ..
            } => Level::Note,
            _ => Level::Look,
        }
    }

    /// What it is about, in a word or two.
    pub fn about(&self) -> &'static str {
        match self {
            Seen::Process { .. } => "process",
            Seen::Balance { .. } => "balance",
            Seen::Amps { .. } | Seen::LitAmps { .. } => "current",
            Seen::Slope { .. } => "up-slope",
            Seen::Method { .. } => "start method",
            Seen::Late { .. } => "late strikes",
            Seen::Retries { .. } => "retries",
            Seen::Wander { .. } => "wander",
            Seen::Dropouts { .. } => "dropouts",
            Seen::Overshoot { .. } => "overshoot",
            Seen::Tip { .. } => "tip",
        }
    }
}
