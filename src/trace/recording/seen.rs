//! What was seen of a recording: a kind, its figures, and the sentence that tells them.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::digits::given;
use crate::flag::Flag;
use crate::format::counted;

/// What was seen of a recording: a kind and its figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Seen {
    /// Rows are missing.
    Gaps(Gaps),
    /// Rows that say "over the range".
    OverRange { rows: u64 },
    /// It ends too early, or its end is not sure.
    CutShort(CutShort),
    /// Rows off an even grid.
    UnevenRows { off_ms: f64, rate_hz: f64 },
    /// Too few samples to measure anything.
    Samples { count: usize },
    /// Too few samples a second.
    SlowRate { rate_hz: f64, needed_hz: f64 },
    /// A trace that is cut off.
    CutOff(CutOff),
    /// A trace that never moves.
    Dead {
        trace: String,
        unit: String,
        level: f64,
    },
    /// Mains hum at rest.
    Hum {
        trace: String,
        unit: String,
        rms: f64,
        hz: f64,
    },
    /// A zero that walks.
    ZeroDrift { low: f64, high: f64, unit: String },
    /// A logger that blocks slow changes, behind a corner that is sure.
    Coupled { trace: String, corner_hz: f64 },
    /// The same, of a corner that is not sure, or of one trace only.
    Sagging { trace: String, corner_hz: f64 },
    /// Its low end was put back by calculation.
    Restored { corner_hz: f64 },
    /// A no-load voltage over the limit.
    NoLoadHigh { volts: f64, limit_v: f64 },
    /// An arc voltage far off the load line.
    OffLoadLine { volts: f64, amps: f64, line_v: f64 },
    /// The sign of an arc that cannot be right.
    Polarity(Polarity),
    /// Current and voltage exchanged: what each is of its own highest where the other is highest, %.
    Swapped { volts_pct: f64, amps_pct: f64 },
    /// One trace comes after the other.
    Skew(Lag),
}

/// Gaps of a table and what made them.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Gaps {
    /// How many.
    pub count: usize,
    /// Line and second of the first ones.
    pub places: Vec<(u64, f64)>,
    /// Rows without a value.
    pub missing: u64,
    /// Rows over the logger's range.
    pub over: u64,
    /// Repeated headers.
    pub headers: u64,
    /// Rows that cannot be read.
    pub unreadable: u64,
    /// Steps back in time.
    pub back: u64,
}

/// How a recording ends too early, or why its end is not sure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum CutShort {
    /// Lines at the end that are not rows.
    TrailingLines { lines: u64 },
    /// A compressed file that ends inside its stream.
    CompressedCut { read_s: f64 },
    /// A compressed file with other bytes behind its end.
    CompressedMore { read_s: f64 },
    /// A header without a length.
    LengthUnknown { read_s: f64 },
    /// A header that promises more than is there.
    Shorter {
        promised: u64,
        there: u64,
        read_s: f64,
    },
    /// A file that ends inside a frame.
    PartOfFrame { bytes: u64, read_s: f64 },
}

/// A trace that is cut off at a level.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CutOff {
    /// Name of the trace.
    pub trace: String,
    /// Unit of the level.
    pub unit: String,
    /// Where it is cut off.
    pub level: f64,
    /// Whether that is the logger's full scale.
    pub full_scale: bool,
    /// The longest stay there that was looked at, ms.
    pub longest_ms: f64,
}

/// The sign of a DC arc that cannot be right.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub enum Polarity {
    /// Current and voltage of opposite signs.
    SignsDiffer { amps: f64, volts: f64 },
    /// A DC arc on the positive electrode, by the job file's word on the sign.
    ElectrodePositive { amps: f64 },
}

/// By how much one trace comes after the other.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Lag {
    /// Name of the trace that comes later.
    pub late: String,
    /// Name of the other.
    pub early: String,
    /// By this much, ms.
    pub by_ms: f64,
    /// Over this many strikes.
    pub strikes: usize,
    /// This much would be no fault, ms.
    pub allowed_ms: f64,
}

impl Seen {
    /// The flag that it stands behind.
    pub fn flag(&self) -> Flag {
        match self {
            Seen::Gaps(_) => Flag::Gap,
            Seen::OverRange { .. } | Seen::CutOff(_) => Flag::Clipped,
            Seen::CutShort(_) => Flag::CutShort,
            Seen::UnevenRows { .. } => Flag::UnevenTime,
            Seen::Samples { .. } => Flag::ShortWindow,
            Seen::SlowRate { .. } => Flag::SlowRate,
            Seen::Dead { .. } => Flag::DeadChannel,
            Seen::Hum { .. } => Flag::Hum,
            Seen::ZeroDrift { .. } => Flag::OffsetDrift,
            Seen::Coupled { .. } | Seen::Sagging { .. } | Seen::Restored { .. } => Flag::AcCoupled,
            Seen::NoLoadHigh { .. } => Flag::NoLoadHigh,
            Seen::OffLoadLine { .. } => Flag::VoltageScale,
            Seen::Polarity(_) => Flag::Polarity,
            Seen::Swapped { .. } => Flag::ChannelsSwapped,
            Seen::Skew(_) => Flag::Skew,
        }
    }
}

impl fmt::Display for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Seen::Gaps(gaps) => gaps.fmt(f),
            Seen::OverRange { rows } => {
                let rows = counted(*rows as usize, "row");
                write!(f, "over the logger's range in {rows}, so taken for gaps")
            }
            Seen::CutShort(how) => how.fmt(f),
            Seen::UnevenRows { off_ms, rate_hz } => write!(
                f,
                "rows lie up to {off_ms:.3} ms off an even {rate_hz:.2} Hz; values were taken between rows by straight lines"
            ),
            Seen::Samples { count } => write!(f, "it holds {}", counted(*count, "sample")),
            Seen::SlowRate { rate_hz, needed_hz } => write!(
                f,
                "{rate_hz:.1} samples a second; dropouts from 0.5 ms need {needed_hz:.0}, wander up to 200 Hz needs 1000"
            ),
            Seen::CutOff(end) => end.fmt(f),
            Seen::Dead { trace, unit, level } => {
                write!(f, "the {trace} stays at {level:.3} {unit} throughout")
            }
            Seen::Hum {
                trace,
                unit,
                rms,
                hz,
            } => write!(
                f,
                "{rms:.2} {unit} rms of {hz:.0} Hz and its harmonics in the idle {trace}"
            ),
            Seen::ZeroDrift { low, high, unit } => write!(
                f,
                "the zero of the current goes from {low:.2} to {high:.2} {unit}; it was followed and taken away"
            ),
            Seen::Coupled { trace, corner_hz } => write!(
                f,
                "the {trace} sags as behind a {corner_hz:.3} Hz high-pass: write high_pass_hz = {corner_hz:.3} under [logger]"
            ),
            Seen::Sagging { trace, corner_hz } => write!(
                f,
                "the {trace} sags as behind a high-pass of some {corner_hz:.1} Hz: use a DC-coupled input"
            ),
            Seen::Restored { corner_hz } => write!(
                f,
                "the low end under {} Hz was restored by calculation",
                given(*corner_hz)
            ),
            Seen::NoLoadHigh { volts, limit_v } => write!(
                f,
                "{volts:.0} V without current; the limit of IEC 60974-1 is {limit_v:.0} V peak on DC"
            ),
            Seen::OffLoadLine {
                volts,
                amps,
                line_v,
            } => write!(
                f,
                "{volts:.1} V at {amps:.0} A; the load line of IEC 60974-1 says {line_v:.1} V"
            ),
            Seen::Polarity(sign) => sign.fmt(f),
            Seen::Swapped {
                volts_pct,
                amps_pct,
            } => write!(
                f,
                "where the current is highest the voltage is {volts_pct:.0} % of its own highest; where the voltage is highest the current is {amps_pct:.0} %; exchange their channels in [logger]"
            ),
            Seen::Skew(lag) => lag.fmt(f),
        }
    }
}

impl fmt::Display for Gaps {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = |(line, at): &(u64, f64)| format!("{at:.4} s (line {line})");
        let at: Vec<String> = self.places.iter().map(place).collect();
        let more = if self.count > at.len() { " and on" } else { "" };
        let (gaps, at) = (counted(self.count, "gap"), at.join(", "));
        write!(f, "{gaps}, after {at}{more}")?;
        let causes = [
            (self.missing, "row", "without a value"),
            (self.over, "row", "over the range"),
            (self.headers, "header", "repeated"),
            (self.unreadable, "row", "that cannot be read"),
            (self.back, "step", "back in time"),
        ];
        for (count, noun, what) in causes.into_iter().filter(|cause| cause.0 > 0) {
            write!(f, "; {} {what}", counted(count as usize, noun))?;
        }
        Ok(())
    }
}

impl fmt::Display for CutShort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CutShort::TrailingLines { lines } => {
                let lines = counted(*lines as usize, "line");
                write!(f, "{lines} without a row at the end, left out")
            }
            CutShort::CompressedCut { read_s } => write!(
                f,
                "the compressed file ends too early; {read_s:.3} s were read"
            ),
            CutShort::CompressedMore { read_s } => write!(
                f,
                "other bytes follow the compressed text; {read_s:.3} s were read"
            ),
            CutShort::LengthUnknown { read_s } => write!(
                f,
                "the header does not say how long it is; {read_s:.3} s were found and read"
            ),
            CutShort::Shorter {
                promised,
                there,
                read_s,
            } => write!(
                f,
                "the header promises {promised} bytes of samples, {there} are there; {read_s:.3} s were read"
            ),
            CutShort::PartOfFrame { bytes, read_s } => write!(
                f,
                "it ends {bytes} bytes into a frame; {read_s:.3} s were read"
            ),
        }
    }
}

impl fmt::Display for CutOff {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let CutOff {
            trace, unit, level, ..
        } = self;
        let how = match self.full_scale {
            true => "full scale",
            false => "below full scale",
        };
        let longest_ms = self.longest_ms;
        write!(
            f,
            "the {trace} is cut off at {level:.1} {unit} ({how}), for {longest_ms:.2} ms at the longest looked at"
        )
    }
}

impl fmt::Display for Polarity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Polarity::SignsDiffer { amps, volts } => write!(
                f,
                "{amps:.0} A go with {volts:.1} V: one of the two is connected the other way round; give its scale in [logger] a minus"
            ),
            Polarity::ElectrodePositive { amps } => write!(
                f,
                "a DC arc of {amps:.0} A, which would be electrode positive by the job file: hardly so with TIG; turn electrode_negative, or write dcep in the run sheet"
            ),
        }
    }
}

impl fmt::Display for Lag {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Lag {
            late,
            early,
            by_ms,
            allowed_ms,
            ..
        } = self;
        let over = counted(self.strikes, "strike");
        write!(
            f,
            "the {late} comes {by_ms:.2} ms after the {early} over {over}; {allowed_ms:.2} ms would be no fault"
        )
    }
}
