//! Loads of known current, and the scale fitted to them.

use serde::Serialize;

use crate::job::length;
use crate::job::logger::{CurrentInput, Offset};

/// Key of the scale of a WAV file.
pub(super) const AT_FULL_SCALE: &str = "amps_at_full_scale";

/// A load of known current during part of a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// Current of the load, A.
    pub amps: f64,
    /// Start of the load, s.
    pub from_s: f64,
    /// End of the load, s.
    pub to_s: f64,
}

/// A fitted scale with expanded uncertainties (k = 2). They follow from the scatter of the trace alone; add the
/// uncertainty of the meter you read the current from.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Fitted {
    /// Key in the job file: `amps_at_full_scale` or `amps_per_unit`.
    pub key: &'static str,
    /// Value of the key, A.
    pub scale: f64,
    /// Its expanded uncertainty, A.
    pub u_scale: f64,
    /// Reading of the trace without current, A; `None` for a single load, where idle stretches show it.
    pub offset: Option<f64>,
    /// Its expanded uncertainty, A.
    pub u_offset: Option<f64>,
    /// Warnings about the loads.
    pub cautions: Vec<String>,
}

impl Fitted {
    /// Formats the scale as keys of `[logger]`, rounded to its uncertainty.
    pub(crate) fn keys(&self) -> String {
        let offset = self.offset.map(|offset| {
            format!(
                ", offset = {}",
                toml::Value::from(rounded(offset, self.u_offset.unwrap_or(0.0)))
            )
        });
        let scale = toml::Value::from(rounded(self.scale, self.u_scale));
        format!(", {} = {scale}{}", self.key, offset.unwrap_or_default())
    }

    /// Returns the input with this scale in place of its own.
    pub fn scaled_input(&self, input: &CurrentInput) -> CurrentInput {
        let scale = Some(rounded(self.scale, self.u_scale));
        let wav = self.key == AT_FULL_SCALE;
        CurrentInput {
            channel: input.channel,
            column: input.column.clone(),
            amps_at_full_scale: scale.filter(|_| wav),
            amps_per_unit: scale.filter(|_| !wav),
            offset: self.offset.map_or(input.offset, |offset| {
                Offset::Stated(rounded(offset, self.u_offset.unwrap_or(0.0)))
            }),
            tolerance_pct: input.tolerance_pct,
            ..CurrentInput::default()
        }
    }
}

/// Rounds to two digits below the uncertainty, and to at least six digits.
fn rounded(value: f64, u: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let last = (value.abs().log10() - 5.0).min(u.max(f64::MIN_POSITIVE).log10() - 2.0);
    let steps = 10_f64.powi((-last.floor() as i32).clamp(-12, 12));
    (value * steps).round() / steps
}

impl std::str::FromStr for Known {
    type Err = String;

    /// Reads "80 A from 2 s to 5 s"; also "80A", "80,5 A", "0.08 kA".
    fn from_str(text: &str) -> Result<Known, String> {
        let parts = text
            .split_once("from")
            .and_then(|(amps, times)| Some((amps, times.split_once("to")?)));
        let read = parts.map(|(amps, (from, to))| {
            let amps = [("kA", 1e3), ("mA", 1e-3), ("A", 1.0)]
                .iter()
                .find_map(|(unit, times)| Some(quantity(amps, unit)? * times));
            (amps, quantity(from, "s"), quantity(to, "s"))
        });
        match read {
            Some((Some(amps), Some(from_s), Some(to_s))) if to_s > from_s => {
                Ok(Known { amps, from_s, to_s })
            }
            Some((Some(_), Some(_), Some(_))) => {
                Err("the second time must come after the first".into())
            }
            _ => Err("write it as \"80 A from 2 s to 5 s\"".into()),
        }
    }
}

/// Reads a number with its unit; the decimal sign may be a comma.
fn quantity(text: &str, unit: &str) -> Option<f64> {
    length::number(text.trim().strip_suffix(unit)?)
}
