//! Scales of the traces: from raw values to amps and volts, with their uncertainty.

use crate::error::{Error, ErrorKind, Result};
use crate::job::logger::{CurrentInput, Logger, Offset, Shunt, VoltageInput};

/// Source of the zero of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Zero {
    /// Estimated from idle stretches and tracked along the recording.
    Auto,
    /// Stated, A or V.
    Stated(f64),
}

impl From<Offset> for Zero {
    fn from(offset: Offset) -> Zero {
        match offset {
            Offset::Auto => Zero::Auto,
            Offset::Stated(value) => Zero::Stated(value),
        }
    }
}

/// Meaning of the raw values of a trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Carrier {
    /// Fractions of full scale; the value is the smallest step.
    FullScale(f64),
    /// Current; the value is A per unit.
    Amps(f64),
    /// Voltage; the value is V per unit.
    Volts(f64),
    /// Numbers of a table without a unit.
    Bare,
}

/// Conversion from raw values to A or V.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Scale {
    /// A or V for a raw value of 1.
    pub gain: f64,
    /// Zero of the trace.
    pub zero: Zero,
    /// A or V at full scale, for files that have one.
    pub full_scale: Option<f64>,
    /// Tolerances of everything in the chain, %; each is the half-width of a rectangular distribution.
    pub tolerances_pct: Vec<f64>,
    /// Resolution of the logger, A or V; 0 if it has none.
    pub step: f64,
}

impl Scale {
    /// Scale of values that are already in A or V.
    pub fn unit() -> Scale {
        Scale {
            gain: 1.0,
            zero: Zero::Stated(0.0),
            full_scale: None,
            tolerances_pct: Vec::new(),
            step: 0.0,
        }
    }

    /// Returns the standard uncertainty of a level, A or V.
    ///
    /// Tolerances and resolution are rectangular distributions, half-width over √3 (JCGM 100:2008, 4.3.7), combined
    /// by root sum of squares (5.1.2).
    pub fn standard_uncertainty(&self, level: f64) -> f64 {
        let relative: f64 = self
            .tolerances_pct
            .iter()
            .map(|pct| (pct / 100.0).powi(2) / 3.0)
            .sum();
        let step = (self.step / 2.0).powi(2) / 3.0;
        (relative * level * level + step).sqrt()
    }

    /// Scale of the current.
    ///
    /// # Errors
    /// An impossible scale, conflicting scales, or none.
    pub fn of_current(logger: &Logger, input: &CurrentInput, carrier: Carrier) -> Result<Scale> {
        let at = "[logger] current";
        let (gain, full_scale) = current_gain(input, carrier, at)?;
        Scale::checked(
            at,
            gain,
            full_scale,
            carrier,
            input.offset,
            [input.tolerance_pct, logger.tolerance_pct],
        )
    }

    /// Scale of the voltage.
    ///
    /// # Errors
    /// An impossible scale, conflicting scales, or none.
    pub fn of_voltage(logger: &Logger, input: &VoltageInput, carrier: Carrier) -> Result<Scale> {
        let at = "[logger] voltage";
        let (volts, full_scale) =
            volts_at_input(input.volts_at_full_scale, input.volts_per_unit, carrier, at)?;
        let gain = volts * input.divider.unwrap_or(1.0);
        Scale::checked(
            at,
            gain,
            full_scale,
            carrier,
            input.offset,
            [input.tolerance_pct, logger.tolerance_pct],
        )
    }

    fn checked(
        at: &str,
        gain: f64,
        full_scale: bool,
        carrier: Carrier,
        offset: Offset,
        tolerances: [f64; 2],
    ) -> Result<Scale> {
        if !gain.is_finite() || gain == 0.0 {
            return Err(Error::new(
                ErrorKind::WrongScale,
                at,
                "the scale does not work out to a finite number other than 0",
            )
            .hint("Full scale, shunt, gain and divider must not be 0"));
        }
        if let Some(bad) = tolerances.iter().find(|t| !(0.0..100.0).contains(*t)) {
            return Err(Error::new(
                ErrorKind::InvalidValue,
                at,
                format!("tolerance_pct = {bad} is not between 0 and 100"),
            ));
        }
        let step = match carrier {
            Carrier::FullScale(step) => step * gain.abs(),
            _ => 0.0,
        };
        let full_scale = full_scale.then_some(gain.abs());
        Ok(Scale {
            gain,
            zero: offset.into(),
            full_scale,
            tolerances_pct: tolerances.to_vec(),
            step,
        })
    }
}

/// Returns A for a raw value of 1, and whether 1 is full scale.
fn current_gain(input: &CurrentInput, carrier: Carrier, at: &str) -> Result<(f64, bool)> {
    let over_volts = match (input.shunt, input.amps_per_volt) {
        (Some(_), Some(_)) => {
            return Err(Error::new(
                ErrorKind::ConflictingKeys,
                at,
                "both shunt and amps_per_volt are given",
            )
            .hint("Keep one"));
        }
        (Some(Shunt { amps, millivolts }), None) => Some(amps / (millivolts * 1e-3)),
        (None, other) => other,
    };
    let direct = match carrier {
        Carrier::FullScale(_) => input.amps_at_full_scale,
        Carrier::Amps(_) | Carrier::Volts(_) | Carrier::Bare => input.amps_per_unit,
    };
    match (direct, over_volts, carrier) {
        (Some(_), Some(_), _) => Err(Error::new(ErrorKind::ConflictingKeys, at, "there are two scales").hint("Keep one")),
        (Some(amps), None, Carrier::FullScale(_)) => Ok((amps, true)),
        (Some(amps), None, _) => Ok((amps, false)),
        (None, Some(amps_per_volt), _) => {
            let (volts, full) = volts_at_input(input.volts_at_full_scale, input.volts_per_unit, carrier, at)?;
            Ok((volts * amps_per_volt / input.gain.unwrap_or(1.0), full))
        }
        (None, None, Carrier::Amps(amps)) => Ok((amps, false)),
        (None, None, Carrier::FullScale(_)) => Err(Error::new(ErrorKind::MissingScale, at, "there is no scale")
            .hint("Give amps_at_full_scale = …, or shunt = { amps = …, millivolts = … } with volts_at_full_scale = …")),
        (None, None, _) => Err(Error::new(ErrorKind::MissingScale, at, "the table's header names no unit of current")
            .hint("Give amps_per_unit = …, or shunt = { amps = …, millivolts = … }")),
    }
}

/// Returns V at the logger's input for a raw value of 1, and whether 1 is full scale.
fn volts_at_input(
    full_scale: Option<f64>,
    per_unit: Option<f64>,
    carrier: Carrier,
    at: &str,
) -> Result<(f64, bool)> {
    match (carrier, full_scale, per_unit) {
        (Carrier::FullScale(_), Some(volts), None) => Ok((volts, true)),
        (Carrier::FullScale(_), None, _) => {
            Err(Error::new(ErrorKind::MissingScale, at, "there is no scale")
                .hint("Give volts_at_full_scale = …"))
        }
        (Carrier::FullScale(_), Some(_), Some(_)) => Err(Error::new(
            ErrorKind::ConflictingKeys,
            at,
            "volts_per_unit is for tables",
        )
        .hint("Leave it out for a WAV file")),
        (_, Some(_), _) => {
            Err(
                Error::new(ErrorKind::ConflictingKeys, at, "a table has no full scale")
                    .hint("Give volts_per_unit = …, or name the unit in the header"),
            )
        }
        (_, None, Some(volts)) => Ok((volts, false)),
        (Carrier::Volts(volts), None, None) => Ok((volts, false)),
        (Carrier::Amps(_), None, None) => Err(Error::new(
            ErrorKind::WrongScale,
            at,
            "the table's header says amps where volts are expected",
        )
        .hint("Leave shunt, amps_per_volt and divider out, or choose the other column")),
        (Carrier::Bare, None, None) => Err(Error::new(
            ErrorKind::MissingScale,
            at,
            "the table's header names no unit of voltage",
        )
        .hint("Give volts_per_unit = …")),
    }
}
