//! Assigns the columns of a table to roles: as `[logger]` says, or by title and unit.

use crate::error::{Error, ErrorKind, Result};
use crate::job::logger::{CurrentInput, Logger, TimeInput, TimeUnit, VoltageInput};
use crate::recording::scale::Carrier;
use crate::recording::table::words::{CURRENT_WORDS, TIME_WORDS, VOLTAGE_WORDS};
use crate::recording::table::{Column, Content, Layout, Timing};

/// A time without a unit is taken as seconds if the rows then come at least this often, Hz.
const SLOWEST_HZ: f64 = 200.0;

/// The role of each column in use.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Roles {
    pub timing: Timing,
    pub current: (usize, CurrentInput),
    pub voltage: Option<(usize, VoltageInput)>,
    pub trigger: Option<usize>,
}

/// Finds the column of each role.
///
/// # Errors
/// A column that is missing, ambiguous or holds no numbers.
pub(crate) fn of(layout: &Layout, logger: &Logger, at: &str) -> Result<Roles> {
    let columns = Columns {
        all: &layout.columns,
        at,
    };
    let timing = timing(layout, logger, at)?;
    let current = match &logger.current {
        Some(input) => (
            columns.named("current", input.channel, &input.column)?,
            input.clone(),
        ),
        None => (
            columns
                .guessed("current", &CURRENT_WORDS, &["a", "ma", "ka"])?
                .ok_or_else(|| columns.unknown())?,
            CurrentInput::default(),
        ),
    };
    let voltage = match &logger.voltage {
        Some(input) => Some((
            columns.named("voltage", input.channel, &input.column)?,
            input.clone(),
        )),
        None if logger.current.is_some() => None,
        None => columns
            .guessed("voltage", &VOLTAGE_WORDS, &["v", "mv", "kv"])?
            .map(|k| (k, VoltageInput::default())),
    };
    if let Some((k, _)) = voltage.as_ref().filter(|(k, _)| *k == current.0) {
        return Err(Error::new(
            ErrorKind::UnsuitableChannel,
            "[logger]",
            format!("current and voltage are both column {}", k + 1),
        )
        .hint("Give each its own"));
    }
    let trigger = logger
        .trigger
        .as_ref()
        .map(|t| columns.named("trigger", t.channel, &t.column))
        .transpose()?;
    Ok(Roles {
        timing,
        current,
        voltage,
        trigger,
    })
}

/// Returns what the numbers of a column stand for.
pub(crate) fn carrier(column: &Column) -> Carrier {
    match column.unit.as_deref() {
        Some("a") => Carrier::Amps(1.0),
        Some("ma") => Carrier::Amps(1e-3),
        Some("ka") => Carrier::Amps(1e3),
        Some("v") => Carrier::Volts(1.0),
        Some("mv") => Carrier::Volts(1e-3),
        Some("kv") => Carrier::Volts(1e3),
        _ => Carrier::Bare,
    }
}

/// Columns of numbers whose names alone mean current and voltage, each where there is just one.
pub(crate) fn by_words(layout: &Layout) -> [Option<usize>; 2] {
    [&CURRENT_WORDS, &VOLTAGE_WORDS].map(|words| {
        let named = |c: &Column| c.content == Content::Number && words.contains(&c.name.as_str());
        let mut found = (0..layout.columns.len()).filter(|k| named(&layout.columns[*k]));
        found.next().filter(|_| found.next().is_none())
    })
}

/// Finds how the table gives the time.
///
/// # Errors
/// Neither a time column nor a rate, or a time without a unit.
pub(crate) fn timing(layout: &Layout, logger: &Logger, at: &str) -> Result<Timing> {
    let columns = Columns {
        all: &layout.columns,
        at,
    };
    let stated = match (&logger.time, logger.rate_hz) {
        (
            Some(TimeInput {
                channel: None,
                column: None,
                unit,
            }),
            None,
        ) => (columns.time()?, *unit),
        (Some(input), None) => (Some(columns.named_time(input)?), input.unit),
        (Some(_), Some(_)) => {
            return Err(Error::new(
                ErrorKind::ConflictingKeys,
                "[logger]",
                "both time and rate_hz are given",
            )
            .hint("Keep one"));
        }
        (None, Some(rate)) => return Ok(Timing::Rate(rate)),
        (None, None) => (columns.time()?, None),
    };
    let (Some(column), unit) = stated else {
        return Err(Error::new(
            ErrorKind::UnclearTime,
            columns.at,
            "there is no time column",
        )
        .hint("State the rate in [logger]: rate_hz = …"));
    };
    let seconds = |unit: TimeUnit| match unit {
        TimeUnit::S => Timing::Column(column, 1.0),
        TimeUnit::Ms => Timing::Column(column, 1e-3),
        TimeUnit::Us => Timing::Column(column, 1e-6),
        TimeUnit::Clock => Timing::Clock(column),
    };
    let found = &columns.all[column];
    match (unit, found.content, found.unit.as_deref()) {
        (_, Content::Clock, _) => Ok(Timing::Clock(column)),
        (Some(unit), _, _) => Ok(seconds(unit)),
        (None, _, Some("s")) => Ok(seconds(TimeUnit::S)),
        (None, _, Some("ms")) => Ok(seconds(TimeUnit::Ms)),
        (None, _, Some("us")) => Ok(seconds(TimeUnit::Us)),
        (None, _, _)
            if layout
                .step(column)
                .is_some_and(|step| step > 0.0 && step * SLOWEST_HZ <= 1.0) =>
        {
            Ok(seconds(TimeUnit::S))
        }
        (None, _, _) => Err(Error::new(
            ErrorKind::UnclearTime,
            format!("{}, column \"{}\"", columns.at, found.title),
            "the time has no unit",
        )
        .hint("Name it in the header, or in [logger]: time = { column = \"…\", unit = \"ms\" }")),
    }
}

/// The columns of a file, for error messages and search.
struct Columns<'a> {
    all: &'a [Column],
    at: &'a str,
}

impl Columns<'_> {
    fn listed(&self) -> String {
        self.all
            .iter()
            .map(|c| format!("\"{}\"", c.title))
            .collect::<Vec<_>>()
            .join(", ")
    }

    fn unknown(&self) -> Error {
        Error::new(
            ErrorKind::ChannelNotNamed,
            self.at,
            "no column looks like the current by its title or unit",
        )
        .hint(format!(
            "Name it in [logger]: current = {{ column = \"…\", amps_per_unit = … }}; the columns are {}",
            self.listed()
        ))
    }

    /// Finds the column that `[logger]` names by number or title.
    fn named(&self, role: &str, channel: Option<u16>, title: &Option<String>) -> Result<usize> {
        let k = self.place(role, channel, title)?;
        match self.all[k].content {
            Content::Number => Ok(k),
            _ => Err(Error::new(
                ErrorKind::UnsuitableChannel,
                format!("{}, column \"{}\"", self.at, self.all[k].title),
                format!("it holds no numbers, but [logger] calls it the {role}"),
            )
            .hint(format!("The columns are {}", self.listed()))),
        }
    }

    fn named_time(&self, input: &TimeInput) -> Result<usize> {
        let k = self.place("time", input.channel, &input.column)?;
        match self.all[k].content {
            Content::Number | Content::Clock => Ok(k),
            _ => Err(Error::new(
                ErrorKind::UnclearTime,
                format!("{}, column \"{}\"", self.at, self.all[k].title),
                "it holds no times",
            )
            .hint("Write a time as a number, or like 13:05:07.250")),
        }
    }

    fn place(&self, role: &str, channel: Option<u16>, title: &Option<String>) -> Result<usize> {
        let count = self.all.len();
        match (channel, title) {
            (Some(n), None) if (1..=count).contains(&usize::from(n)) => Ok(usize::from(n) - 1),
            (Some(n), None) => Err(Error::new(
                ErrorKind::NoSuchChannel,
                format!("[logger] {role}"),
                format!("channel = {n}, but {} has {count} columns", self.at),
            )
            .hint("Columns are counted from 1")),
            (None, Some(title)) => {
                let small = title.trim().to_lowercase();
                let like = |c: &Column| c.title.to_lowercase() == small;
                let place = self
                    .all
                    .iter()
                    .position(like)
                    .or_else(|| self.all.iter().position(|c| c.name == small));
                place.ok_or_else(|| {
                    Error::new(
                        ErrorKind::NoSuchChannel,
                        format!("[logger] {role}"),
                        format!("{} has no column \"{title}\"", self.at),
                    )
                    .hint(format!("The columns are {}", self.listed()))
                })
            }
            _ => Err(Error::new(
                ErrorKind::ConflictingKeys,
                format!("[logger] {role}"),
                "give either column = \"…\" or channel = …",
            )),
        }
    }

    /// Finds the only column with a matching title or unit.
    fn guessed(&self, role: &str, words: &[&str], units: &[&str]) -> Result<Option<usize>> {
        let numbers = || {
            self.all
                .iter()
                .enumerate()
                .filter(|(_, c)| c.content == Content::Number)
        };
        let unit = |c: &Column| c.unit.as_deref().is_some_and(|u| units.contains(&u));
        let by_unit: Vec<usize> = numbers().filter(|(_, c)| unit(c)).map(|(k, _)| k).collect();
        let by_word: Vec<usize> = numbers()
            .filter(|(_, c)| unit(c) && words.contains(&c.name.as_str()))
            .map(|(k, _)| k)
            .collect();
        match (&by_unit[..], &by_word[..]) {
            (_, &[k]) | (&[k], _) => Ok(Some(k)),
            ([], _) => Ok(None),
            _ => Err(Error::new(
                ErrorKind::ChannelNotNamed,
                self.at,
                format!("more than one column could be the {role}"),
            )
            .hint(format!(
                "Name it in [logger]: {role} = {{ column = \"…\" }}; the columns are {}",
                self.listed()
            ))),
        }
    }

    fn time(&self) -> Result<Option<usize>> {
        let timed = |c: &Column| {
            c.unit
                .as_deref()
                .is_some_and(|u| ["s", "ms", "us"].contains(&u))
        };
        let clock = self.all.iter().position(|c| c.content == Content::Clock);
        let word =
            |c: &Column| c.content == Content::Number && TIME_WORDS.contains(&c.name.as_str());
        let unit = |c: &Column| c.content == Content::Number && timed(c);
        Ok(clock
            .or_else(|| self.all.iter().position(word))
            .or_else(|| self.all.iter().position(unit)))
    }
}
