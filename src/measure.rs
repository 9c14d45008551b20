//! The list of measures of one start: names, units and meaning (docs/measures.md).

use serde::{Deserialize, Serialize};

/// How a measure is written down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A real number.
    Real,
    /// A whole number.
    Count,
}

/// Name, unit and meaning of one measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MeasureInfo {
    /// Field, column and JSON key.
    pub name: &'static str,
    /// Unit, empty for a count.
    pub unit: &'static str,
    /// Count or real.
    pub kind: Kind,
    /// Short label for people.
    pub label: &'static str,
}

macro_rules! measures {
    ($($(#[$doc:meta])* $name:ident $unit:literal $kind:ident $label:literal,)*) => {
        /// What was measured of one start. `None`: not measurable, and a flag says why.
        #[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
        pub struct Measures {
            $($(#[$doc])* pub $name: Option<f64>,)*
        }

        impl Measures {
            /// Every measure, in table order.
            pub const ALL: &'static [MeasureInfo] = &[
                $(MeasureInfo { name: stringify!($name), unit: $unit, kind: Kind::$kind, label: $label },)*
            ];

            /// The value of a measure by its name; `None` too where the name is unknown.
            pub fn get(&self, name: &str) -> Option<f64> {
                match name { $(stringify!($name) => self.$name,)* _ => None }
            }

            /// Sets a measure by its name; `false` where the name is unknown.
            pub fn set(&mut self, name: &str, value: Option<f64>) -> bool {
                match name { $(stringify!($name) => self.$name = value,)* _ => return false }
                true
            }
        }
    };
}

measures! {
    /// From the circuit opening to the first current, t_first − t_open, ms.
    delay_ms "ms" Real "delay",
    /// From the first current to the arc that holds, t_lit − t_first, ms.
    stutter_ms "ms" Real "stutter",
    /// From lit to settled, t_settled − t_lit, ms.
    settle_ms "ms" Real "settle",
    /// Start time: t_settled − t_open, or − t_first where there is no open stretch, ms.
    start_ms "ms" Real "start time",
    /// Unbroken stretches of conducting up to and with the one that lit.
    attempts "" Count "attempts",
    /// 10–90 % transition duration of the current magnitude (IEEE Std 181), ms.
    rise_ms "ms" Real "rise",
    /// Post-transition overshoot in percent of the state difference (IEEE Std 181).
    overshoot_pct "%" Real "overshoot",
    /// Mean magnitude of current over the first 20 ms from t_lit, A.
    lit_a "A" Real "lit at",
    /// Run level of the current over the observation window: median magnitude (AC: rms), A.
    run_a "A" Real "run current",
    /// Median magnitude of voltage over the observation window, V.
    run_v "V" Real "run voltage",
    /// Dropouts in the observation window.
    dropouts "" Count "dropouts",
    /// Time in dropouts in the observation window, ms.
    dropout_ms "ms" Real "dropout time",
    /// Longest dropout in the observation window, ms.
    dropout_longest_ms "ms" Real "longest dropout",
    /// Touches after t_lit in the observation window.
    touches "" Count "touches",
    /// Band-limited voltage residual, V rms.
    wander_v "V" Real "wander",
    /// Strongest frequency of the voltage residual inside the band, Hz.
    wander_hz "Hz" Real "wander frequency",
    /// Current in the wander band about its own slow trend, A rms.
    wander_a "A" Real "current wander",
    /// Mains hum and harmonics in the voltage residual, left out of wander, V rms.
    hum_v "V" Real "hum",
    /// Theil–Sen slope of the voltage residual, V/s.
    drift_v "V/s" Real "drift",
    /// Electrode-negative share by time, AC only.
    en_share_pct "%" Real "EN share",
    /// AC frequency, Hz.
    ac_hz "Hz" Real "AC frequency",
    /// Half-cycles in which the arc did not reignite, AC only.
    missed_halfcycles "" Count "missed half-cycles",
    /// Mean of the current over whole cycles less what balance and amplitudes set would give, AC only, A.
    dc_offset_a "A" Real "DC offset",
    /// Pulse frequency of the current, Hz.
    pulse_hz "Hz" Real "pulse frequency",
    /// Energy from t_first to t_settled, J.
    energy_j "J" Real "energy",
    /// Charge from t_first to t_settled, C.
    charge_c "C" Real "charge",
    /// Time since the last arc of the recording went out, s.
    rest_s "s" Real "rest",
    /// Starts on this tip since it was ground, this one included.
    since_regrind "" Count "starts since regrind",
    /// Expanded uncertainty (k = 2) of start_ms, ms.
    u_start_ms "ms" Real "U(start time)",
    /// Expanded uncertainty (k = 2) of run_a, A.
    u_run_a "A" Real "U(run current)",
    /// Expanded uncertainty (k = 2) of run_v, V.
    u_run_v "V" Real "U(run voltage)",
    /// Expanded uncertainty (k = 2) of wander_v, V.
    u_wander_v "V" Real "U(wander)",
}
