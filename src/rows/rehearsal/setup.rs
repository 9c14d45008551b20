//! What machine, welder and logger do in the recordings of a job: what made starts are to be like.

use crate::demo::{Column, Program, Rise, Wave};
use crate::job::{Context, Process};
use crate::measure::MeasureValues;
use crate::rehearsal::borrow::Arc;
use crate::score::StartRow;
use crate::stats::median;

/// Current of a made start where nothing tells one, A.
const USUAL_A: f64 = 80.0;
/// Slope of an arc's voltage, V/A (common practice, no source).
const SLOPE_V_PER_A: f64 = 0.018;
/// The machine drives with this no-load voltage at least, whatever the divider shows of it, V.
const LEAST_NO_LOAD_V: f64 = 60.0;
/// Time constant of a machine whose rise cannot be seen, s.
const USUAL_TAU_S: f64 = 0.4e-3;
/// Electrode-negative share of alternating current where none is given.
const USUAL_EN_SHARE: f64 = 0.7;
/// A pulse's background may be this part of its peak.
const BACKGROUND: (f64, f64) = (0.05, 0.95);
/// Shares of the period at the peak that a made pulse may have.
const DUTY: (f64, f64) = (0.1, 0.9);
/// How long made arcs and rests may last, s.
const ARC_S: (f64, f64) = (0.3, 1.2);
const REST_S: (f64, f64) = (0.3, 1.5);
/// Longest delay of made starts, s, unless the job has longer ones.
const DELAY_S: f64 = 0.3;

/// What made starts are like.
#[derive(Debug, Clone)]
pub(crate) struct Setup {
    /// Samples a second.
    pub rate_hz: f64,
    /// Whether there is a voltage trace.
    pub voltage: bool,
    /// Mains frequency as stated, Hz.
    pub mains_hz: Option<f64>,
    /// Run level, A: mean or rms.
    pub run_a: f64,
    /// The machine.
    pub program: Program,
    /// The arc.
    pub column: Column,
    /// Voltage of the open circuit, V; `None` where the machine's own shows.
    pub open_v: Option<f64>,
    /// Up-slope that the sheet states, s.
    pub upslope_s: Option<f64>,
    /// How long an arc lasts, s, without an up-slope.
    pub arc_s: f64,
    /// How long the circuit rests between starts, s.
    pub rest_s: f64,
    /// Longest delay, s.
    pub delay_s: f64,
    /// Signs of the traces while the electrode is negative.
    pub signs: [f64; 2],
}

/// What a setup is read from.
pub(crate) struct Told<'a> {
    pub rate_hz: f64,
    pub voltage: bool,
    pub context: Context,
    /// The starts of the recordings.
    pub rows: &'a [&'a StartRow],
    /// Their arcs.
    pub arcs: &'a [Arc],
    /// Current set on the machine, or asked for, A.
    pub set_a: Option<f64>,
    /// Where the circuit stands open, V.
    pub open_v: Option<f64>,
    /// Sign of the current trace while the electrode is negative.
    pub electrode_negative_sign: f64,
}

impl Told<'_> {
    /// The setup.
    pub fn setup(&self) -> Setup {
        let run_a = self
            .set_a
            .or_else(|| self.usual(|m| m.run_a()))
            .unwrap_or(USUAL_A);
        let run_v = self.usual(|m| m.run_v());
        let seconds = |value: Option<f64>, usual: f64, (least, most): (f64, f64)| {
            value.unwrap_or(usual).clamp(least, most)
        };
        let delay_ms = self.rows.iter().filter_map(|row| row.measures.delay_ms());
        let wave = self.wave();
        Setup {
            rate_hz: self.rate_hz,
            voltage: self.voltage,
            mains_hz: self.context.mains_hz,
            run_a,
            program: self.program(run_a, wave),
            column: Column {
                base_v: run_v.map_or(Column::default().base_v, |v| {
                    (v - SLOPE_V_PER_A * run_a).max(5.5)
                }),
                slope_v_per_a: SLOPE_V_PER_A,
                ..Column::default()
            },
            open_v: self.open_v,
            upslope_s: self.context.upslope_s.filter(|s| *s > 0.0),
            arc_s: seconds(median(&self.arc_lengths_s()), ARC_S.1, ARC_S),
            rest_s: seconds(self.usual(|m| m.rest_s()), 0.5, REST_S),
            delay_s: delay_ms.fold(DELAY_S, |most, ms| most.max(1e-3 * ms)),
            signs: self.signs(wave),
        }
    }

    fn usual(&self, of: impl Fn(&MeasureValues) -> Option<f64>) -> Option<f64> {
        let values: Vec<f64> = self.rows.iter().filter_map(|r| of(&r.measures)).collect();
        median(&values)
    }

    fn arc_lengths_s(&self) -> Vec<f64> {
        let length = |row: &&StartRow| {
            let of = &row.instants;
            Some(of.t_out_s? - of.t_lit_s? - self.context.upslope_s.unwrap_or(0.0))
        };
        self.rows.iter().filter_map(length).collect()
    }

    fn wave(&self) -> Wave {
        let alternates = self.usual(|m| m.ac_hz());
        let stated_ac = self.context.process.is_some_and(Process::is_ac);
        if stated_ac || alternates.is_some() {
            return Wave::Ac {
                hz: alternates.unwrap_or(100.0),
                en_share: self
                    .usual(|m| m.en_share_pct())
                    .map_or(USUAL_EN_SHARE, |pct| (pct / 100.0).clamp(0.3, 0.95)),
                ep_ratio: 1.0,
                shape: crate::demo::Shape::Square,
                lead: None,
            };
        }
        let positive = self.context.process == Some(Process::Dcep)
            || self.context.process.is_none() && self.mean_sign(0) < 0.0;
        let pulsed = self
            .rows
            .iter()
            .filter(|r| r.measures.pulse_hz().is_some())
            .count();
        match self.usual(|m| m.pulse_hz()) {
            _ if positive => Wave::Positive,
            Some(hz) if 2 * pulsed > self.rows.len() => {
                let (background, duty) = self.pulse();
                Wave::Pulse {
                    hz,
                    background,
                    duty,
                }
            }
            _ => Wave::Negative,
        }
    }

    /// Background over peak, and share of the period at the peak.
    fn pulse(&self) -> (f64, f64) {
        let part = |at: f64| {
            let values: Vec<f64> = self.arcs.iter().filter_map(|arc| arc.part(at)).collect();
            median(&values)
        };
        let mean: Vec<f64> = self.arcs.iter().map(Arc::mean_a).collect();
        match (part(0.05), part(0.95), median(&mean)) {
            (Some(low), Some(high), Some(mean)) if high > low => (
                (low / high).clamp(BACKGROUND.0, BACKGROUND.1),
                ((mean - low) / (high - low)).clamp(DUTY.0, DUTY.1),
            ),
            _ => (0.5, 0.5),
        }
    }

    fn program(&self, run_a: f64, wave: Wave) -> Program {
        let amps = match wave {
            // The run level is the mean over the period.
            Wave::Pulse {
                background, duty, ..
            } => run_a / (duty + (1.0 - duty) * background),
            _ => run_a,
        };
        let tau_s = match wave {
            Wave::Ac { .. } => 0.1e-3,
            // 10–90 % of a first-order rise take ln 9 time constants (analytic).
            _ => self.usual(|m| m.rise_ms()).map_or(USUAL_TAU_S, |ms| {
                (1e-3 * ms / 9f64.ln()).clamp(0.05e-3, 20e-3)
            }),
        };
        Program {
            wave,
            rise: Rise::First { tau_s },
            no_load_v: self.open_v.unwrap_or(0.0).max(LEAST_NO_LOAD_V),
            ..Program::steady(amps)
        }
    }

    /// Sign of what a trace shows in most arcs, with the stated sign of the current.
    fn mean_sign(&self, trace: usize) -> f64 {
        let sum: f64 = self.arcs.iter().map(|arc| arc.sums[trace].signum()).sum();
        self.electrode_negative_sign * if sum < 0.0 { -1.0 } else { 1.0 }
    }

    fn signs(&self, wave: Wave) -> [f64; 2] {
        let together: f64 = self.arcs.iter().map(|arc| arc.together.signum()).sum();
        let volts = if together < 0.0 { -1.0 } else { 1.0 };
        let amps = match wave {
            Wave::Ac { .. } => self.electrode_negative_sign,
            Wave::Positive => self.electrode_negative_sign,
            // The trace's own sign counts: a sheet that says otherwise is told apart.
            _ => self.electrode_negative_sign * self.mean_sign(0),
        };
        [amps, amps * volts]
    }
}
