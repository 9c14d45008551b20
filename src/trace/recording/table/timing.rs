//! How a table gives the time, and the spacing of its rows.

use crate::error::{Error, ErrorKind, Result};
use crate::recording::source::rate_fault;
use crate::recording::table::field;
use crate::recording::table::layout::{self, Layout};
use crate::recording::table::pace::Pace;
use crate::recording::table::rows::{Rows, TIME};

/// How a table gives the time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Timing {
    /// A column; the second value is its unit in s.
    Column(usize, f64),
    /// A column of times of day or dates.
    Clock(usize),
    /// Rows at an even rate, Hz.
    Rate(f64),
}

impl Timing {
    /// Index of the time column, counted from 0.
    pub fn column(self) -> Option<usize> {
        match self {
            Timing::Column(column, _) | Timing::Clock(column) => Some(column),
            Timing::Rate(_) => None,
        }
    }
}

/// Scales times to s.
pub(crate) fn scale_times(rows: &mut Rows, timing: Timing) {
    if let Timing::Column(_, unit) = timing {
        rows.columns[TIME].iter_mut().for_each(|t| *t *= unit);
    }
}

/// Works out the spacing of the rows from the first times, s.
///
/// # Errors
/// Times that do not rise.
pub(crate) fn pace_of(layout: &Layout, times: &[f64], timing: Timing, at: &str) -> Result<Pace> {
    let (column, unit) = match timing {
        Timing::Rate(rate) => {
            return Ok(Pace {
                step: 1.0 / rate,
                resolution: 0.0,
            });
        }
        Timing::Column(column, unit) => (column, unit),
        Timing::Clock(column) => (column, 1.0),
    };
    let fields = layout::fields(&layout.first_row, layout.delimiter);
    let resolution = fields.get(column).map_or(0.0, |f| field::resolution(f)) * unit;
    let pace = Pace::of(times, resolution).ok_or_else(|| {
        Error::new(
            ErrorKind::UnclearTime,
            at,
            "the times do not rise from row to row",
        )
        .hint(OTHER_TIMES)
    })?;
    checked_rate(1.0 / pace.step, at).map(|()| pace)
}

/// Way out if times cannot be used.
const OTHER_TIMES: &str =
    "Choose another column with time = { column = \"…\", unit = \"s\" }, or state rate_hz";

/// Checks that a rate worked out from times is plausible.
pub(super) fn checked_rate(rate_hz: f64, at: &str) -> Result<()> {
    match rate_fault(rate_hz) {
        None => Ok(()),
        Some(problem) => Err(Error::new(ErrorKind::SampleRate, at, problem).hint(OTHER_TIMES)),
    }
}
