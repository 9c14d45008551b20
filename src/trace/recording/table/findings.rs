//! Checks the rows of a table: errors that refuse it, and findings that are reported.

use crate::error::{Error, ErrorKind, Result};
use crate::format::counted;
use crate::recording::finding::Finding;
use crate::recording::seen::{CutShort, Gaps, Seen};
use crate::recording::table::build::Builder;
use crate::recording::table::layout;

/// Number of unreadable rows that count as gaps.
const FEW: u64 = 3;
/// Fraction of unreadable rows that count as gaps.
const FEW_PART: f64 = 0.01;
/// Required resolution of the times as a fraction of the whole, because the rate comes from them.
const FINE_PART: f64 = 1e-3;

/// Maximum number of stretches without a gap: with more of them there is little to measure, and memory would not hold them.
const MOST_STRETCHES: usize = 50_000;

/// Whether a table has so many gaps that it is refused, however it goes on.
pub(super) fn is_torn(builder: &Builder) -> bool {
    builder.stretches.len() > MOST_STRETCHES
}

/// Refuses a table that would be measured wrongly.
///
/// # Errors
/// No rows, ambiguous numbers, too many unreadable rows, times that give no rate.
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
        return Err(Error::new(
            ErrorKind::NotANumber,
            format!("{at}, line {line}, column {column}"),
            format!(
                "\"{text}\" is not a number ({} like this)",
                counted(met.unreadable as usize, "line")
            ),
        )
        .hint("Choose the columns in [logger], or export numbers only"));
    }
    if rows == 0 {
        return Err(Error::new(
            ErrorKind::NoCompleteRow,
            at,
            "no row has a value in every column in use",
        )
        .hint("Choose other columns in [logger]"));
    }
    let lasts = builder.stretches.last().map_or(0.0, |s| s.to_s);
    let pace = builder.pace();
    if pace.resolution > 2.0 * pace.step && pace.resolution > FINE_PART * lasts {
        return Err(Error::new(
            ErrorKind::UnclearTime,
            at,
            format!(
                "its times have a resolution of {} s, too coarse to tell the rate",
                pace.resolution
            ),
        )
        .hint("State the rate: rate_hz = …"));
    }
    let many = builder.stretches.len() as u64 > rows / 10;
    if rows > 100 && many || is_torn(builder) {
        let (stretches, step) = (builder.stretches.len(), 1e3 * pace.step);
        return Err(Error::new(
            ErrorKind::UnclearTime,
            at,
            format!(
                "the times jump {stretches} times in {rows} rows; the usual step is {step:.4} ms"
            ),
        )
        .hint("Is this the right time column? Else state rate_hz"));
    }
    Ok(())
}

/// Bytes that are no compressed text stand behind it.
pub(super) fn more_behind(builder: &Builder, rate_hz: f64) -> Finding {
    let read_s = builder.rows() as f64 / rate_hz;
    let end_s = builder.stretches.last().map_or(0.0, |s| s.to_s);
    let how = CutShort::CompressedMore { read_s };
    Finding::within(Seen::CutShort(how), vec![(end_s, f64::MAX)])
}

/// Findings about everything besides even rows.
pub(super) fn of(builder: &Builder, cut: bool, rate_hz: f64) -> Vec<Finding> {
    let (met, mut found) = (&builder.met, Vec::new());
    let (parts, end_s) = (&builder.stretches, builder.stretches.last().map(|s| s.to_s));
    let between: Vec<_> = parts.windows(2).map(|w| (w[0].to_s, w[1].from_s)).collect();
    let behind = vec![(end_s.unwrap_or(0.0), f64::MAX)];
    if parts.len() > 1 {
        found.push(Finding::within(Seen::Gaps(gaps(builder)), between.clone()));
    }
    if met.over > 0 {
        let seen = Seen::OverRange { rows: met.over };
        found.push(Finding::within(seen, between));
    }
    if met.trailing > 0 {
        let how = CutShort::TrailingLines {
            lines: met.trailing,
        };
        found.push(Finding::within(Seen::CutShort(how), behind.clone()));
    }
    if cut {
        let read_s = builder.rows() as f64 / rate_hz;
        let how = CutShort::CompressedCut { read_s };
        found.push(Finding::within(Seen::CutShort(how), behind));
    }
    found
}

fn gaps(builder: &Builder) -> Gaps {
    let met = &builder.met;
    Gaps {
        count: builder.stretches.len() - 1,
        places: met.gaps.clone(),
        missing: met.missing,
        over: met.over,
        headers: met.headers,
        unreadable: met.unreadable - met.trailing,
        back: met.back,
    }
}

/// Finding about rows that were resampled to an even rate.
pub(super) fn uneven(off: f64, rate_hz: f64) -> Finding {
    Finding::new(Seen::UnevenRows {
        off_ms: 1e3 * off,
        rate_hz,
    })
}
