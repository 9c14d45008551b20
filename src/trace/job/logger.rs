//! `[logger]` of the job file: the channels and their scales.

use serde::{Deserialize, Serialize};

/// How the logger was wired and scaled.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Logger {
    /// Mains frequency, Hz.
    pub mains_hz: Option<f64>,
    /// Sign of the current trace while the electrode is negative.
    pub electrode_negative: Sign,
    /// Tolerance of the logger itself, % of reading.
    pub tolerance_pct: f64,
    /// Corner of an AC-coupled logger, Hz; the low frequencies are then restored.
    pub high_pass_hz: Option<f64>,
    /// Sample rate of a table without a time column, Hz.
    pub rate_hz: Option<f64>,
    /// The current trace.
    pub current: Option<CurrentInput>,
    /// The voltage trace.
    pub voltage: Option<VoltageInput>,
    /// The trigger trace.
    pub trigger: Option<TriggerInput>,
    /// The time column of a table.
    pub time: Option<TimeInput>,
}

impl Logger {
    /// Scales and tolerances in words, equal for equal calibrations; `None` without a current.
    pub fn calibration(&self) -> Option<String> {
        let current = self.current.as_ref()?.calibration();
        let voltage = self.voltage.as_ref().map(VoltageInput::calibration);
        let own = within(self.tolerance_pct).map(|within| format!("logger {within}"));
        let words: Vec<String> = [Some(current), voltage, own]
            .into_iter()
            .flatten()
            .collect();
        Some(words.join("; "))
    }
}

fn within(pct: f64) -> Option<String> {
    (pct > 0.0).then(|| format!("±{pct} %"))
}

/// Formats "current 200 A at full scale ±0.5 %".
fn joined(what: &str, parts: impl IntoIterator<Item = Option<String>>) -> String {
    let parts = parts.into_iter().flatten();
    parts.fold(what.to_owned(), |text, part| text + " " + &part)
}

/// A sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sign {
    /// Above zero.
    #[default]
    Positive,
    /// Below zero.
    Negative,
}

/// Channel and scale of the current; exactly one of the possible scales must be given.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CurrentInput {
    /// Channel of a WAV file or column of a table, counted from 1.
    pub channel: Option<u16>,
    /// Title of the column in a table.
    pub column: Option<String>,
    /// A at full scale of a WAV file; negative inverts the trace.
    pub amps_at_full_scale: Option<f64>,
    /// A per unit of a table; negative inverts the trace.
    pub amps_per_unit: Option<f64>,
    /// Shunt, as on its plate.
    pub shunt: Option<Shunt>,
    /// A per V of a current clamp or isolating amplifier.
    pub amps_per_volt: Option<f64>,
    /// Gain of an amplifier between shunt or clamp and logger.
    pub gain: Option<f64>,
    /// V at the logger's input at full scale of a WAV file.
    pub volts_at_full_scale: Option<f64>,
    /// V at the logger's input per unit of a table whose header has no unit.
    pub volts_per_unit: Option<f64>,
    /// Reading without current, A, or "auto".
    pub offset: Offset,
    /// Tolerance of shunt, clamp or amplifier, % of reading.
    pub tolerance_pct: f64,
}

impl CurrentInput {
    fn calibration(&self) -> String {
        let with = |unit: &'static str| move |x: f64| format!("{x} {unit}");
        let parts = [
            self.amps_at_full_scale.map(with("A at full scale")),
            self.amps_per_unit.map(with("A a unit")),
            self.shunt
                .map(|s| format!("shunt {} A / {} mV", s.amps, s.millivolts)),
            self.amps_per_volt.map(with("A/V")),
            self.gain.map(|gain| format!("gain {gain}")),
            self.volts_at_full_scale.map(with("V at full scale")),
            self.volts_per_unit.map(with("V a unit")),
            within(self.tolerance_pct),
        ];
        joined("current", parts)
    }
}

/// A shunt, as on its plate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shunt {
    /// Rated current, A.
    pub amps: f64,
    /// Voltage drop at rated current, mV.
    pub millivolts: f64,
}

/// Channel and scale of the voltage.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct VoltageInput {
    /// Channel of a WAV file or column of a table, counted from 1.
    pub channel: Option<u16>,
    /// Title of the column in a table.
    pub column: Option<String>,
    /// V at full scale of a WAV file, at the logger's input if there is a divider; negative inverts the trace.
    pub volts_at_full_scale: Option<f64>,
    /// V per unit of a table whose header has no unit, at the logger's input if there is a divider.
    pub volts_per_unit: Option<f64>,
    /// V at the arc per V at the logger's input.
    pub divider: Option<f64>,
    /// Reading without voltage, V, or "auto".
    pub offset: Offset,
    /// Tolerance of the divider, % of reading.
    pub tolerance_pct: f64,
}

impl VoltageInput {
    fn calibration(&self) -> String {
        let with = |unit: &'static str| move |x: f64| format!("{x} {unit}");
        let parts = [
            self.volts_at_full_scale.map(with("V at full scale")),
            self.volts_per_unit.map(with("V a unit")),
            self.divider.map(|divider| format!("divider {divider}")),
            within(self.tolerance_pct),
        ];
        joined("voltage", parts)
    }
}

/// Channel of the trigger.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TriggerInput {
    /// Channel of a WAV file or column of a table, counted from 1.
    pub channel: Option<u16>,
    /// Title of the column in a table.
    pub column: Option<String>,
    /// Threshold above which the trigger is on, as a fraction of full scale or in units of the table; 0.5 if not
    /// given.
    pub level: Option<f64>,
}

/// The time column of a table.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TimeInput {
    /// Column, counted from 1.
    pub channel: Option<u16>,
    /// Title of the column.
    pub column: Option<String>,
    /// Unit of the time; if not given, taken from the header or from the look of the values.
    pub unit: Option<TimeUnit>,
}

/// Unit of a time column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TimeUnit {
    /// Seconds.
    S,
    /// Milliseconds.
    Ms,
    /// Microseconds.
    #[serde(alias = "µs", alias = "μs")]
    Us,
    /// Time of day with or without a date.
    Clock,
}

/// The zero of a trace.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(untagged, expecting = "an offset is a number or \"auto\"")]
pub enum Offset {
    /// Stated, A or V.
    Stated(f64),
    /// Estimated from idle stretches and tracked along the recording.
    #[default]
    #[serde(with = "auto")]
    Auto,
}

/// The word "auto".
mod auto {
    use serde::de::Error;
    use serde::{Deserialize, Deserializer, Serializer};

    pub fn serialize<S: Serializer>(to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str("auto")
    }

    pub fn deserialize<'a, D: Deserializer<'a>>(from: D) -> Result<(), D::Error> {
        match String::deserialize(from)?.as_str() {
            "auto" => Ok(()),
            other => Err(D::Error::custom(other)),
        }
    }
}
