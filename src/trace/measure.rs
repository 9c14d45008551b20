//! The measures of one start: names, units, better side, margins (docs/measures.md).

mod values;

pub use values::MeasureValues;

use std::fmt;

use serde::{Deserialize, Serialize, Serializer};

/// How a measure is written down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A real number.
    Real,
    /// A whole number.
    Count,
}

/// Which way is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Better {
    /// Less is better.
    Lower,
    /// More is better.
    Higher,
    /// Neither is: the measure describes.
    Neither,
}

/// Scale on which values are averaged and compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Transform {
    /// As they are.
    Linear,
    /// Their natural logarithm: times and wander are skewed to the right.
    Log,
}

impl Transform {
    /// The value on this scale; `None` where a logarithm has none.
    pub fn apply(self, value: f64) -> Option<f64> {
        match self {
            Transform::Linear => Some(value),
            Transform::Log => (value > 0.0).then(|| libm::log(value)),
        }
    }
}

macro_rules! measures {
    ($($(#[$doc:meta])* $variant:ident $name:ident $unit:literal $kind:ident $better:ident $label:literal,)*) => {
        /// What can be measured of one start.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Measure {
            $($(#[$doc])* $variant,)*
        }

        impl Measure {
            /// Every measure, in table order.
            pub const ALL: &'static [Measure] = &[$(Measure::$variant,)*];

            /// Field, column and JSON key.
            pub fn name(self) -> &'static str {
                match self { $(Measure::$variant => stringify!($name),)* }
            }

            /// Unit, empty for a count.
            pub fn unit(self) -> &'static str {
                match self { $(Measure::$variant => $unit,)* }
            }

            /// Count or real.
            pub fn kind(self) -> Kind {
                match self { $(Measure::$variant => Kind::$kind,)* }
            }

            /// Which way is better.
            pub fn better(self) -> Better {
                match self { $(Measure::$variant => Better::$better,)* }
            }

            /// Short label for people.
            pub fn label(self) -> &'static str {
                match self { $(Measure::$variant => $label,)* }
            }
        }

        /// What was measured of one start. `None`: not measurable, and a flag says why.
        #[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
        pub struct Measures {
            $($(#[$doc])* pub $name: Option<f64>,)*
        }

        impl Measures {
            /// The value of a measure.
            pub fn get(&self, measure: Measure) -> Option<f64> {
                match measure { $(Measure::$variant => self.$name,)* }
            }

            /// Sets the value of a measure.
            pub fn set(&mut self, measure: Measure, value: Option<f64>) {
                match measure { $(Measure::$variant => self.$name = value,)* }
            }
        }

        impl MeasureValues {
            $($(#[$doc])* pub fn $name(&self) -> Option<f64> {
                self.get(Measure::$variant)
            })*
        }
    };
}

measures! {
    /// From the circuit opening to the first current, t_first − t_open, ms.
    DelayMs delay_ms "ms" Real Lower "delay",
    /// From the first current to the arc that holds, t_lit − t_first, ms.
    StutterMs stutter_ms "ms" Real Lower "stutter",
    /// From lit to settled, t_settled − t_lit, ms.
    SettleMs settle_ms "ms" Real Lower "settle",
    /// Start time: t_settled − t_open, or − t_first where there is no open stretch, ms.
    StartMs start_ms "ms" Real Lower "start time",
    /// Unbroken stretches of conducting up to and with the one that lit.
    Attempts attempts "" Count Lower "attempts",
    /// 10–90 % transition duration of the current magnitude (IEEE Std 181), ms.
    RiseMs rise_ms "ms" Real Lower "rise",
    /// Post-transition overshoot in percent of the state difference (IEEE Std 181).
    OvershootPct overshoot_pct "%" Real Lower "overshoot",
    /// Mean magnitude of current over the first 20 ms from t_lit, A.
    LitA lit_a "A" Real Neither "lit at",
    /// Run level of the current over the observation window: median magnitude (AC: rms), A.
    RunA run_a "A" Real Neither "run current",
    /// Median magnitude of voltage over the observation window, V.
    RunV run_v "V" Real Neither "run voltage",
    /// Dropouts in the observation window.
    Dropouts dropouts "" Count Lower "dropouts",
    /// Time in dropouts in the observation window, ms.
    DropoutMs dropout_ms "ms" Real Lower "dropout time",
    /// Longest dropout in the observation window, ms.
    DropoutLongestMs dropout_longest_ms "ms" Real Lower "longest dropout",
    /// Touches after t_lit in the observation window.
    Touches touches "" Count Lower "touches",
    /// Band-limited voltage residual, V rms.
    WanderV wander_v "V" Real Lower "wander",
    /// Strongest frequency of the voltage residual inside the band, Hz.
    WanderHz wander_hz "Hz" Real Neither "wander frequency",
    /// Current in the wander band about its own slow trend, A rms.
    WanderA wander_a "A" Real Lower "current wander",
    /// Mains hum and harmonics in the voltage residual, left out of wander, V rms.
    HumV hum_v "V" Real Lower "hum",
    /// Theil–Sen slope of the voltage residual, V/s.
    DriftV drift_v "V/s" Real Neither "drift",
    /// Electrode-negative share by time, AC only.
    EnSharePct en_share_pct "%" Real Neither "EN share",
    /// AC frequency, Hz.
    AcHz ac_hz "Hz" Real Neither "AC frequency",
    /// Half-cycles in which the arc did not reignite, AC only.
    MissedHalfcycles missed_halfcycles "" Count Lower "missed half-cycles",
    /// Mean of the current over whole cycles less what balance and amplitudes set would give, AC only, A.
    DcOffsetA dc_offset_a "A" Real Neither "DC offset",
    /// Pulse frequency of the current, Hz.
    PulseHz pulse_hz "Hz" Real Neither "pulse frequency",
    /// Peak-to-peak ripple of the rectifier's current over the run level, DC only, %.
    RipplePct ripple_pct "%" Real Neither "ripple",
    /// Frequency of that ripple, Hz.
    RippleHz ripple_hz "Hz" Real Neither "ripple frequency",
    /// Share of the start's time that the states of current and voltage explain, %.
    ExplainedPct explained_pct "%" Real Neither "explained",
    /// Energy from t_first to t_settled, J.
    EnergyJ energy_j "J" Real Neither "energy",
    /// Charge from t_first to t_settled, C.
    ChargeC charge_c "C" Real Neither "charge",
    /// Time since the last arc of the recording went out, s.
    RestS rest_s "s" Real Neither "rest",
    /// Starts on this tip since it was ground, this one included.
    SinceRegrind since_regrind "" Count Neither "starts since regrind",
    /// Expanded uncertainty (k = 2) of start_ms, ms.
    UStartMs u_start_ms "ms" Real Neither "U(start time)",
    /// Expanded uncertainty (k = 2) of run_a, A.
    URunA u_run_a "A" Real Neither "U(run current)",
    /// Expanded uncertainty (k = 2) of run_v, V.
    URunV u_run_v "V" Real Neither "U(run voltage)",
    /// Expanded uncertainty (k = 2) of wander_v, V.
    UWanderV u_wander_v "V" Real Neither "U(wander)",
}

/// Significant digits of a measured level. The tenth would depend on the machine's library of mathematical functions, and no
/// logger's numbers carry it.
const DIGITS: usize = 9;

impl Measures {
    /// Rounds levels to nine significant digits, so that every machine tells the same figures. Times stay differences of
    /// their instants, and counts are whole.
    pub fn round(&mut self) {
        for measure in Measure::ALL.iter().filter(|m| m.is_level()) {
            self.set(*measure, self.get(*measure).map(rounded));
        }
    }
}

fn rounded(value: f64) -> f64 {
    let text = format!("{value:.*e}", DIGITS - 1);
    text.parse().expect("a number that was written just now")
}

impl Measure {
    /// Whether it is a level: neither a count nor a time between two instants.
    fn is_level(self) -> bool {
        let is_time = matches!(
            self,
            Measure::DelayMs
                | Measure::StutterMs
                | Measure::SettleMs
                | Measure::StartMs
                | Measure::DropoutMs
                | Measure::DropoutLongestMs
                | Measure::RestS
        );
        self.kind() == Kind::Real && !is_time
    }

    /// The measure of a name.
    pub fn named(name: &str) -> Option<Measure> {
        Measure::ALL.iter().copied().find(|m| m.name() == name)
    }

    /// The smallest difference worth having where the user gives none: this project's own starting
    /// points (docs/statistics.md). `None` for counts and shares: there "no difference" needs the
    /// user's margin.
    pub fn margin(self) -> Option<f64> {
        Some(match self {
            Measure::StartMs | Measure::DelayMs | Measure::StutterMs | Measure::SettleMs => 20.0,
            Measure::OvershootPct => 5.0,
            Measure::WanderV => 0.05,
            Measure::RunV => 0.3,
            Measure::LitA | Measure::RunA => 2.0,
            _ => return None,
        })
    }

    /// The scale on which tips are averaged and compared (docs/statistics.md).
    pub fn transform(self) -> Transform {
        match self {
            Measure::StartMs | Measure::DelayMs | Measure::SettleMs | Measure::WanderV => {
                Transform::Log
            }
            _ => Transform::Linear,
        }
    }
}

impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Serialize for Measure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

/// What starts are compared by: the score, a measure, or a numeric column of the run sheet.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Quantity {
    /// The score, 0 to 100.
    Score,
    /// A measure.
    Measure(Measure),
    /// A column of the run sheet, by its heading.
    Column(String),
}

impl Quantity {
    /// The quantity of a name: what is neither the score nor a measure is a column.
    pub fn named(name: &str) -> Quantity {
        match Measure::named(name) {
            Some(measure) => Quantity::Measure(measure),
            None if name == "score" => Quantity::Score,
            None => Quantity::Column(name.to_owned()),
        }
    }

    /// Field, column and JSON key.
    pub fn name(&self) -> &str {
        match self {
            Quantity::Score => "score",
            Quantity::Measure(measure) => measure.name(),
            Quantity::Column(heading) => heading,
        }
    }

    /// Unit; empty for the score, for counts and for columns, whose heading says it.
    pub fn unit(&self) -> &'static str {
        match self {
            Quantity::Measure(measure) => measure.unit(),
            Quantity::Score | Quantity::Column(_) => "",
        }
    }

    /// Which way is better; a column of the user's own counts as better when lower, as most faults
    /// and times are.
    pub fn better(&self) -> Better {
        match self {
            Quantity::Score => Better::Higher,
            Quantity::Measure(measure) => measure.better(),
            Quantity::Column(_) => Better::Lower,
        }
    }

    /// The smallest difference worth having where the user gives none; see [`Measure::margin`].
    pub fn margin(&self) -> Option<f64> {
        match self {
            Quantity::Score => Some(5.0),
            Quantity::Measure(measure) => measure.margin(),
            Quantity::Column(_) => None,
        }
    }

    /// The scale on which tips are averaged and compared.
    pub fn transform(&self) -> Transform {
        match self {
            Quantity::Measure(measure) => measure.transform(),
            Quantity::Score | Quantity::Column(_) => Transform::Linear,
        }
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl Serialize for Quantity {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_carry_nine_digits_and_times_all_of_theirs() {
        let mut measures = Measures {
            wander_v: Some(0.123_456_789_876_543_2),
            run_a: Some(-79.997_163_799_151_28),
            start_ms: Some(22.627_941_316_941_54),
            attempts: Some(3.0),
            ..Measures::default()
        };
        measures.round();
        assert_eq!(measures.wander_v, Some(0.123_456_790));
        assert_eq!(measures.run_a, Some(-79.997_163_8));
        assert_eq!(measures.start_ms, Some(22.627_941_316_941_54));
        assert_eq!(measures.attempts, Some(3.0));
        assert_eq!(measures.drift_v, None);
    }
}
