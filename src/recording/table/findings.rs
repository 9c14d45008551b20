//! What is said about a table's rows: what is refused, and what is only told.

use crate::error::{Error, Result};
use crate::flag::{Finding, Flag};
use crate::format::counted;
use crate::recording::table::build::{Builder, Met};
use crate::recording::table::layout;

/// So many rows that cannot be read are let pass as gaps …
const FEW: u64 = 3;
/// … or this part of all rows.
const FEW_PART: f64 = 0.01;
/// Times must be written at least this finely, as part of the whole: the rate comes from them.
const FINE_PART: f64 = 1e-3;

/// Refuses a table that would be measured wrongly.
///
/// # Errors
/// No rows, numbers that can mean two things, too much that is no row, times that tell no rate.
pub(super) fn refuse(builder: &Builder, at: &str) -> Result<()> {
    let met = &builder.met;
    if let Some(line) = met.thousands {
        return Err(layout::thousands(at, line));
    }
    let rows = builder.rows();
    let bad = met.unreadable - met.trailing.min(met.unreadable);
    let first = met
        .first_unreadable
        .as_ref()
        .filter(|_| rows == 0 || bad > FEW.max((FEW_PART * rows as f64) as u64));
    if let Some((line, text, column)) = first {
        return Err(Error::input(
            format!("{at}, line {line}, column {column}"),
            format!(
                "\"{text}\" is no number, {} of this kind",
                counted(met.unreadable as usize, "line")
            ),
        )
        .hint("Choose the columns in [logger], or export numbers only"));
    }
    if rows == 0 {
        return Err(
            Error::input(at, "not one row has a value in every column that is read")
                .hint("Choose other columns in [logger]"),
        );
    }
    let lasts = builder.stretches.last().map_or(0.0, |s| s.to_s);
    let pace = builder.pace();
    if pace.resolution > 2.0 * pace.step && pace.resolution > FINE_PART * lasts {
        return Err(Error::input(
            at,
            format!(
                "its times are written to {} s only, too coarse for a rate",
                pace.resolution
            ),
        )
        .hint("State the rate: rate_hz = …"));
    }
    if rows > 100 && builder.stretches.len() as u64 > rows / 10 {
        let (stretches, step) = (builder.stretches.len(), 1e3 * pace.step);
        return Err(Error::input(
            at,
            format!(
                "the times jump {stretches} times in {rows} rows; the usual step is {step:.4} ms"
            ),
        )
        .hint("Is this the right time column? Else state rate_hz"));
    }
    Ok(())
}

/// What was met besides even rows.
pub(super) fn of(builder: &Builder, cut: bool, rate_hz: f64) -> Vec<Finding> {
    let mut found = Vec::new();
    if builder.stretches.len() > 1 {
        found.push(Finding {
            flag: Flag::Gap,
            seen: gaps(builder),
        });
    }
    if builder.met.over > 0 {
        let rows = counted(builder.met.over as usize, "row");
        let seen = format!("over the logger's range in {rows}, so taken for gaps");
        found.push(Finding {
            flag: Flag::Clipped,
            seen,
        });
    }
    if builder.met.trailing > 0 {
        let lines = counted(builder.met.trailing as usize, "line");
        let seen = format!("{lines} without a row at the end, left out");
        found.push(Finding {
            flag: Flag::CutShort,
            seen,
        });
    }
    if cut {
        let seconds = builder.rows() as f64 / rate_hz;
        let seen = format!("the compressed file ends too early; {seconds:.3} s were read");
        found.push(Finding {
            flag: Flag::CutShort,
            seen,
        });
    }
    found
}

fn gaps(builder: &Builder) -> String {
    let Met {
        missing,
        over,
        headers,
        unreadable,
        trailing,
        back,
        gaps,
        ..
    } = &builder.met;
    let places: Vec<String> = gaps
        .iter()
        .map(|(line, at)| format!("{at:.4} s (line {line})"))
        .collect();
    let count = builder.stretches.len() - 1;
    let more = if count > places.len() { " and on" } else { "" };
    let mut seen = format!(
        "{}, after {}{more}",
        counted(count, "gap"),
        places.join(", ")
    );
    let causes = [
        (*missing, "row", "without a value"),
        (*over, "row", "over the range"),
        (*headers, "header", "repeated"),
        (unreadable - trailing, "row", "that cannot be read"),
        (*back, "step", "back in time"),
    ];
    for (count, noun, what) in causes.into_iter().filter(|cause| cause.0 > 0) {
        seen.push_str(&format!("; {} {what}", counted(count as usize, noun)));
    }
    seen
}

/// Rows that were evened out.
pub(super) fn uneven(off: f64, rate_hz: f64) -> Finding {
    let seen = format!(
        "rows lie up to {:.3} ms off an even {rate_hz:.2} Hz; values were taken between rows by straight lines",
        1e3 * off
    );
    Finding {
        flag: Flag::UnevenTime,
        seen,
    }
}
