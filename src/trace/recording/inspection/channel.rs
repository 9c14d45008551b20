//! A channel: what it is taken for, and why, and what its numbers stand for.

use std::fmt;

use serde::{Serialize, Serializer};

use crate::recording::scale::Carrier;

/// A channel of a WAV file or a column of a table.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Channel {
    /// Counted from 1.
    pub channel: usize,
    /// Title of the column.
    pub title: Option<String>,
    /// What it is: current, voltage, time; `None` where nothing says so.
    pub role: Option<&'static str>,
    /// Why it is taken for that.
    #[serde(serialize_with = "in_words")]
    pub reason: Option<Why>,
    /// Whether it holds numbers.
    pub numbers: bool,
    /// What its numbers stand for.
    pub reading: Reading,
}

/// Why a channel is taken for current, voltage or time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// `[logger]` names it.
    Logger,
    /// Its title names the quantity, with or without a unit.
    Title,
    /// Current flows where the no-load voltage of the other falls.
    Trace,
    /// It is the one column in millivolts, as a shunt gives them.
    Shunt,
    /// Nothing says so: the first channel is the current by habit.
    Habit,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Why::Logger => "[logger] says so",
            Why::Title => "by its title and unit",
            Why::Trace => "current flows where the other's no-load voltage falls",
            Why::Shunt => "by its unit, as a shunt gives it",
            Why::Habit => "by habit only: nothing in the traces tells",
        })
    }
}

/// What the numbers of a channel stand for before `[logger]` says more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reading {
    /// Parts of full scale of a WAV file.
    FullScale,
    /// A, mA or kA: the table says so.
    Amps,
    /// V, mV or kV: the table says so.
    Volts,
    /// Numbers without a unit.
    Bare,
}

impl From<Carrier> for Reading {
    fn from(carrier: Carrier) -> Reading {
        match carrier {
            Carrier::FullScale(_) => Reading::FullScale,
            Carrier::Amps(_) => Reading::Amps,
            Carrier::Volts(_) => Reading::Volts,
            Carrier::Bare => Reading::Bare,
        }
    }
}

/// In words; empty without a reason.
fn in_words<S: Serializer>(why: &Option<Why>, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(&why.map_or(String::new(), |why| why.to_string()))
}
