//! How the logger is wired, from options or questions, where the recording cannot tell.

use std::path::Path;
use std::str::FromStr;

use crate::cli::{answer, ask};
use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::{CurrentInput, Logger, Shunt, Sign, VoltageInput};
use crate::recording::{self, Channel, Inspection, Known, Reading, Why};

/// Options of the wiring, each named as its key in `[logger]`.
#[derive(Debug, clap::Args)]
pub struct WiringArgs {
    /// Channel or column of the current, counted from 1 [default: as the traces tell]
    #[arg(long, value_name = "CHANNEL")]
    current: Option<u16>,
    /// Channel or column of the voltage, counted from 1 [default: as the traces tell]
    #[arg(long, value_name = "CHANNEL")]
    voltage: Option<u16>,
    /// Shunt, as its plate says
    #[arg(
        long,
        value_name = "\"200 A / 60 mV\"",
        conflicts_with = "amps_per_volt"
    )]
    shunt: Option<Plate>,
    /// A per V of a current clamp or isolating amplifier
    #[arg(long, value_name = "NUMBER", value_parser = positive)]
    amps_per_volt: Option<f64>,
    /// Gain of an amplifier between shunt or clamp and logger
    #[arg(long, value_name = "NUMBER", value_parser = positive)]
    gain: Option<f64>,
    /// V that drive the logger's input to full scale (WAV)
    #[arg(long, value_name = "VOLTS", value_parser = scale)]
    volts_at_full_scale: Option<f64>,
    /// A at full scale, where that is known as a whole (WAV)
    #[arg(long, value_name = "AMPS", value_parser = scale, conflicts_with_all = ["shunt", "amps_per_volt"])]
    amps_at_full_scale: Option<f64>,
    /// A for each unit of the column (table without units)
    #[arg(long, value_name = "AMPS", value_parser = scale, conflicts_with_all = ["shunt", "amps_per_volt", "amps_at_full_scale"])]
    amps_per_unit: Option<f64>,
    /// A load of known current in the recording, to work out the scale; twice for scale and offset
    #[arg(long, value_name = "\"80 A from 2 s to 5 s\"", conflicts_with_all = ["shunt", "amps_per_volt", "amps_at_full_scale", "amps_per_unit"])]
    known: Vec<Known>,
    /// V at the arc for each V at the logger
    #[arg(long, value_name = "NUMBER", value_parser = positive)]
    divider: Option<f64>,
    /// V for each unit of the column (table without units)
    #[arg(long, value_name = "VOLTS", value_parser = scale)]
    volts_per_unit: Option<f64>,
    /// Mains frequency, Hz [default: by the hum]
    #[arg(long, value_name = "HZ", value_parser = positive)]
    pub mains_hz: Option<f64>,
    /// Sign of the current trace while the electrode is negative [default: that of the arcs]
    #[arg(long, value_name = "SIGN")]
    pub electrode_negative: Option<SignArg>,
}

/// A sign.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub enum SignArg {
    /// Above zero.
    Positive,
    /// Below zero.
    Negative,
}

impl From<SignArg> for Sign {
    fn from(sign: SignArg) -> Sign {
        match sign {
            SignArg::Positive => Sign::Positive,
            SignArg::Negative => Sign::Negative,
        }
    }
}

/// A shunt as its plate says: "200 A / 60 mV".
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plate(Shunt);

impl FromStr for Plate {
    type Err = String;

    fn from_str(text: &str) -> Result<Plate, String> {
        let number = |text: &str, unit: &str| positive(text.trim().strip_suffix(unit)?).ok();
        let parts = text.split_once('/');
        let read = parts.and_then(|(amps, drop)| {
            Some(Plate(Shunt {
                amps: number(amps, "A")?,
                millivolts: number(drop, "mV")?,
            }))
        });
        read.ok_or_else(|| "write it as on the plate: \"200 A / 60 mV\"".to_owned())
    }
}

/// Reads a number above 0.
fn positive(text: &str) -> Result<f64, String> {
    match answer::number(text)? {
        number if number > 0.0 => Ok(number),
        _ => Err("expected a number above 0".to_owned()),
    }
}

/// Reads a scale; a negative one turns the trace over.
fn scale(text: &str) -> Result<f64, String> {
    match answer::number(text)? {
        0.0 => Err("a scale is not 0".to_owned()),
        number => Ok(number),
    }
}

/// A number above 0, as an answer.
struct Positive(f64);

impl FromStr for Positive {
    type Err = String;

    fn from_str(text: &str) -> Result<Positive, String> {
        positive(text).map(Positive)
    }
}

fn number(question: &str, default: &str) -> Result<Option<f64>> {
    Ok(Some(ask::value::<Positive>(question, default)?.0))
}

/// Ways in which a current reaches a logger, as they are asked for.
const WAYS: [&str; 4] = [
    "a shunt, straight into the logger",
    "a shunt, through an amplifier",
    "a clamp",
    "I know the amps at full scale, or for each unit",
];

impl WiringArgs {
    /// The `[logger]` that options, recording and answers give together.
    ///
    /// # Errors
    /// A channel that is not there, a known load that tells no scale, a question that nobody answers.
    pub fn logger(&self, file: &Path, seen: &Inspection) -> Result<Logger> {
        let current = self.channel("current", self.current, seen)?;
        let Some(current) = current else {
            let problem = "no channel is named as the current";
            return Err(ask::unanswered(
                "current",
                problem,
                "Give --current 1, for example",
            ));
        };
        let voltage = self.channel("voltage", self.voltage, seen)?;
        let input = match self.known.is_empty() {
            true => self.current_input(current)?,
            false => {
                let fitted = recording::fit(file, &logger_of(current), &self.known)?;
                fitted.scaled_input(&bare(current))
            }
        };
        Ok(Logger {
            current: Some(input),
            voltage: voltage.map(|v| self.voltage_input(v)).transpose()?,
            ..Logger::default()
        })
    }

    /// The channel of a role: by option, by the recording, or by a question where only habit tells.
    fn channel<'a>(
        &self,
        role: &'static str,
        stated: Option<u16>,
        seen: &'a Inspection,
    ) -> Result<Option<&'a Channel>> {
        if let Some(n) = stated {
            let found = seen.channels.iter().find(|c| c.channel == usize::from(n));
            let found = found.filter(|c| c.numbers);
            return found.map(Some).ok_or_else(|| {
                Error::new(
                    ErrorKind::NoSuchChannel,
                    Place::parameter(role).value(n),
                    format!("{} has no such channel of numbers", seen.recording),
                )
            });
        }
        let guessed = seen.channels.iter().find(|c| c.role == Some(role));
        let by_habit = guessed.is_some_and(|c| c.reason == Some(Why::Habit));
        if !by_habit || !ask::can_ask() {
            return Ok(guessed);
        }
        let usable: Vec<&Channel> = seen
            .channels
            .iter()
            .filter(|c| c.numbers && c.role != Some("time"))
            .collect();
        let mut names: Vec<String> = usable.iter().map(|c| described(c)).collect();
        if role == "voltage" {
            names.push("none".to_owned());
        }
        let picked = ask::which(&format!("Which channel is the {role}?"), &names)?;
        Ok(usable.get(picked).copied())
    }

    fn current_input(&self, channel: &Channel) -> Result<CurrentInput> {
        let stated = CurrentInput {
            shunt: self.shunt.map(|plate| plate.0),
            amps_per_volt: self.amps_per_volt,
            gain: self.gain,
            amps_at_full_scale: self.amps_at_full_scale,
            amps_per_unit: self.amps_per_unit,
            ..bare(channel)
        };
        let scaled = stated.amps_at_full_scale.is_some() || stated.amps_per_unit.is_some();
        let over_volts = stated.shunt.is_some() || stated.amps_per_volt.is_some();
        if scaled || channel.reading == Reading::Amps {
            return Ok(stated);
        }
        let asked = match over_volts {
            true => stated,
            false => ask_current(stated, channel.reading)?,
        };
        if asked.amps_at_full_scale.is_some() || asked.amps_per_unit.is_some() {
            return Ok(asked);
        }
        let (full, unit) = self.volts_of(channel.reading)?;
        Ok(CurrentInput {
            volts_at_full_scale: full,
            volts_per_unit: unit,
            ..asked
        })
    }

    /// V at full scale of a WAV file, or V for each unit of a column that names none.
    fn volts_of(&self, reading: Reading) -> Result<(Option<f64>, Option<f64>)> {
        let needed = "this recording does not say how many volts its numbers stand for";
        match (reading, self.volts_at_full_scale, self.volts_per_unit) {
            (Reading::FullScale, None, _) if ask::can_ask() => Ok((
                number("Volts that drive the logger's input to full scale", "5")?,
                None,
            )),
            (Reading::FullScale, None, _) => Err(ask::unanswered(
                "volts_at_full_scale",
                needed,
                "Give the volts that drive the logger's input to full scale",
            )),
            (Reading::FullScale, full, _) => Ok((full, None)),
            (Reading::Bare, _, None) if ask::can_ask() => Ok((
                None,
                number("Volts at the logger for each unit of the column", "1")?,
            )),
            (Reading::Bare, _, None) => Err(ask::unanswered(
                "volts_per_unit",
                needed,
                "Give the volts at the logger for each unit of the column",
            )),
            (Reading::Bare, _, unit) => Ok((None, unit)),
            (Reading::Amps | Reading::Volts, ..) => Ok((None, None)),
        }
    }

    fn voltage_input(&self, channel: &Channel) -> Result<VoltageInput> {
        let (volts_at_full_scale, volts_per_unit) = self.volts_of(channel.reading)?;
        let divider = match self.divider {
            None if ask::can_ask() => number("Volts at the arc for each volt at the logger", "1")?,
            stated => stated,
        };
        let (n, column) = place(channel);
        Ok(VoltageInput {
            channel: n,
            column,
            divider: divider.filter(|divider| *divider != 1.0),
            volts_at_full_scale,
            volts_per_unit,
            ..VoltageInput::default()
        })
    }
}

/// Asks how the current reaches the logger.
fn ask_current(input: CurrentInput, reading: Reading) -> Result<CurrentInput> {
    if !ask::can_ask() {
        return Err(ask::unanswered(
            "shunt",
            "nothing says how many amps the numbers of the current stand for",
            "Give --shunt, --amps-per-volt, --amps-at-full-scale, --amps-per-unit, or --known with a load in the recording",
        ));
    }
    let way = ask::which(
        "How does the current reach the logger?",
        &WAYS.map(str::to_owned),
    )?;
    let plate = || ask::value::<Plate>("What does the shunt's plate say?", "200 A / 60 mV");
    Ok(match way {
        0 => CurrentInput {
            shunt: Some(plate()?.0),
            ..input
        },
        1 => CurrentInput {
            shunt: Some(plate()?.0),
            gain: number("Gain of the amplifier", "50")?,
            ..input
        },
        2 => CurrentInput {
            amps_per_volt: number("Amps for each volt of the clamp", "100")?,
            ..input
        },
        _ if reading == Reading::FullScale => CurrentInput {
            amps_at_full_scale: number("Amps at full scale", "300")?,
            ..input
        },
        _ => CurrentInput {
            amps_per_unit: number("Amps for each unit of the column", "1")?,
            ..input
        },
    })
}

fn described(channel: &Channel) -> String {
    match &channel.title {
        Some(title) => format!("column {}, \"{title}\"", channel.channel),
        None => format!("channel {}", channel.channel),
    }
}

/// A channel's number in a WAV file, its title in a table.
fn place(channel: &Channel) -> (Option<u16>, Option<String>) {
    match &channel.title {
        Some(title) => (None, Some(title.clone())),
        None => (u16::try_from(channel.channel).ok(), None),
    }
}

fn bare(channel: &Channel) -> CurrentInput {
    let (n, column) = place(channel);
    CurrentInput {
        channel: n,
        column,
        ..CurrentInput::default()
    }
}

fn logger_of(channel: &Channel) -> Logger {
    Logger {
        current: Some(bare(channel)),
        ..Logger::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plate_is_read_as_it_is_stamped() {
        let shunt = |text: &str| {
            text.parse::<Plate>()
                .map(|plate| (plate.0.amps, plate.0.millivolts))
        };
        assert_eq!(shunt("200 A / 60 mV"), Ok((200.0, 60.0)));
        assert_eq!(shunt("100A/75mV"), Ok((100.0, 75.0)));
        assert_eq!(shunt("250 A / 62,5 mV"), Ok((250.0, 62.5)));
        for wrong in ["200 A", "60 mV / 200 A", "0 A / 60 mV", "200 / 60"] {
            assert!(shunt(wrong).is_err(), "{wrong}");
        }
    }
}
