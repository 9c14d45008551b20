//! Opens a recording: detects the file type by content, then finds the traces and their scales by `[logger]`.

use std::io::Read;

use crate::bytes::Bytes;
use crate::error::{Error, ErrorKind, Result};
use crate::format::counted;
use crate::job::Logger;
use crate::job::logger::{Offset, Sign};
use crate::recording::finding::Finding;
use crate::recording::scale::{Carrier, Scale};
use crate::recording::source::{CURRENT, Source, TRACES, VOLTAGE, rate_fault};
use crate::recording::table::{Head, Layout, Table, Timing};
use crate::recording::wav::Wav;
use crate::recording::{roles, wav};

/// A file that is open and scaled, not yet surveyed.
pub(crate) struct Opened {
    pub source: Box<dyn Source>,
    pub scales: [Scale; 2],
    pub trigger_level: f64,
    pub electrode_negative_sign: f64,
    pub mains_hz: Option<f64>,
    /// Corner of the high-pass whose low end must be restored.
    pub high_pass_hz: Option<f64>,
    /// Unit of traces without a scale.
    pub unscaled: Option<&'static str>,
    pub findings: Vec<Finding>,
}

impl Opened {
    /// A source with its scales and defaults for the rest.
    pub fn plain(source: Box<dyn Source>, scales: [Scale; 2]) -> Opened {
        Opened {
            source,
            scales,
            trigger_level: TRIGGER_LEVEL,
            electrode_negative_sign: 1.0,
            mains_hz: None,
            high_pass_hz: None,
            unscaled: None,
            findings: Vec::new(),
        }
    }
}

/// File types that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum FileKind {
    Wav,
    Table,
}

/// Number of leading bytes that identify the type.
const START: usize = 12;

impl FileKind {
    /// Detects the type by content. Anything but a WAV file is treated as a table; opening it reports what is wrong.
    ///
    /// # Errors
    /// Unreadable or empty file.
    pub fn of(bytes: &Bytes) -> Result<FileKind> {
        let mut start = Vec::new();
        let mut reader = bytes.cursor(0).take(START as u64);
        reader
            .read_to_end(&mut start)
            .map_err(|e| bytes.refused(e))?;
        if start.is_empty() {
            return Err(
                Error::new(ErrorKind::EmptyFile, bytes.name(), "the file is empty")
                    .hint("Record again"),
            );
        }
        Ok(if wav::is_wav(&start) {
            FileKind::Wav
        } else {
            FileKind::Table
        })
    }
}

/// Opens a file of either type.
///
/// # Errors
/// Unreadable file, or one that does not fit this `[logger]`.
pub(crate) fn open(bytes: &Bytes, logger: &Logger) -> Result<Opened> {
    check(logger)?;
    let opened = match FileKind::of(bytes)? {
        FileKind::Wav => open_wav(bytes, logger)?,
        FileKind::Table => open_table(bytes, logger)?,
    };
    Ok(by_logger(opened, logger))
}

/// Adds the settings of `[logger]` other than the scales.
pub(crate) fn by_logger(opened: Opened, logger: &Logger) -> Opened {
    Opened {
        trigger_level: logger
            .trigger
            .as_ref()
            .and_then(|t| t.level)
            .unwrap_or(TRIGGER_LEVEL),
        electrode_negative_sign: match logger.electrode_negative {
            Sign::Positive => 1.0,
            Sign::Negative => -1.0,
        },
        mains_hz: logger.mains_hz,
        high_pass_hz: logger.high_pass_hz,
        ..opened
    }
}

/// Plausible mains frequencies, from 16.7 Hz railways to 400 Hz ships.
const MAINS_HZ: std::ops::RangeInclusive<f64> = 10.0..=1000.0;
/// Plausible corners of AC-coupled inputs; audio inputs go up to some tens of Hz (common practice, no source).
const HIGH_PASS_HZ: std::ops::RangeInclusive<f64> = 1e-3..=1000.0;
/// Plausible zeros, A or V.
const OFFSET: std::ops::RangeInclusive<f64> = -1e6..=1e6;

/// Checks the numbers of `[logger]`.
///
/// # Errors
/// A number out of range.
pub(crate) fn check(logger: &Logger) -> Result<()> {
    let numbers = [
        ("mains_hz", logger.mains_hz),
        ("high_pass_hz", logger.high_pass_hz),
        ("rate_hz", logger.rate_hz),
    ];
    for (key, value) in numbers {
        if let Some(value) = value.filter(|v| !(v.is_finite() && *v > 0.0)) {
            return Err(Error::new(
                ErrorKind::InvalidValue,
                "[logger]",
                format!("{key} = {value}, expected a number above 0"),
            ));
        }
    }
    if let Some(problem) = logger.rate_hz.and_then(rate_fault) {
        return Err(
            Error::new(ErrorKind::SampleRate, "[logger] rate_hz", problem)
                .hint("Give the samples a second that the logger takes"),
        );
    }
    if let Some(hz) = logger.mains_hz.filter(|hz| !MAINS_HZ.contains(hz)) {
        let hint = "It is 50 or 60 nearly everywhere";
        return Err(Error::new(
            ErrorKind::InvalidValue,
            "[logger]",
            format!("mains_hz = {hz} is not a mains frequency"),
        )
        .hint(hint));
    }
    if let Some(hz) = logger.high_pass_hz.filter(|hz| !HIGH_PASS_HZ.contains(hz)) {
        let problem =
            format!("high_pass_hz = {hz} is not the corner of an input; expected 0.001 to 1000");
        let hint = "tipstrike inspect estimates the corner; leave it out for a DC-coupled input";
        return Err(Error::new(ErrorKind::InvalidValue, "[logger]", problem).hint(hint));
    }
    let offsets = [
        ("current", logger.current.as_ref().map(|c| c.offset)),
        ("voltage", logger.voltage.as_ref().map(|v| v.offset)),
    ];
    for (role, offset) in offsets {
        if let Some(Offset::Stated(value)) = offset
            && !OFFSET.contains(&value)
        {
            let problem =
                format!("offset = {value} is not a plausible zero; expected -1000000 to 1000000");
            let hint = "Give what the trace shows at rest, in A or V, or \"auto\"";
            return Err(
                Error::new(ErrorKind::InvalidValue, format!("[logger] {role}"), problem).hint(hint),
            );
        }
    }
    Ok(())
}

fn open_wav(bytes: &Bytes, logger: &Logger) -> Result<Opened> {
    let mut source = Wav::open(bytes)?;
    let (chosen, scales) = wav_traces(source.header(), logger, bytes.name())?;
    source.choose(chosen);
    let findings = source.findings().to_vec();
    Ok(Opened {
        findings,
        ..Opened::plain(Box::new(source), scales)
    })
}

/// Returns channels and scales of a WAV file according to `[logger]`.
///
/// # Errors
/// A missing channel, or one that is not named.
pub(crate) fn wav_traces(
    header: &wav::Header,
    logger: &Logger,
    file: &str,
) -> Result<([Option<usize>; TRACES], [Scale; 2])> {
    let Some(current) = &logger.current else {
        let hint = format!(
            "Run tipstrike inspect {file}: it shows the channels and a [logger] block for the job file"
        );
        return Err(Error::new(
            ErrorKind::ChannelNotNamed,
            file,
            "a WAV file says neither which channel is the current nor its scale",
        )
        .hint(hint));
    };
    let channels = header.channels;
    let index = |role: &str, channel: Option<u16>| match channel {
        Some(n) if (1..=channels).contains(&usize::from(n)) => Ok(usize::from(n) - 1),
        Some(n) => Err(Error::new(
            ErrorKind::NoSuchChannel,
            format!("[logger] {role}"),
            format!(
                "channel = {n}, but {file} has {}",
                counted(channels, "channel")
            ),
        )
        .hint("Channels are counted from 1")),
        None => Err(Error::new(
            ErrorKind::ChannelNotNamed,
            format!("[logger] {role}"),
            format!("{file} is a WAV file and no channel is given"),
        )
        .hint("Give channel = 1, 2, …")),
    };
    let amps = index("current", current.channel)?;
    let volts = logger
        .voltage
        .as_ref()
        .map(|v| index("voltage", v.channel))
        .transpose()?;
    let trigger = logger
        .trigger
        .as_ref()
        .map(|t| index("trigger", t.channel))
        .transpose()?;
    if volts == Some(amps) {
        return Err(Error::new(
            ErrorKind::UnsuitableChannel,
            "[logger]",
            format!("current and voltage are both channel {}", amps + 1),
        )
        .hint("Give each its own"));
    }
    let carrier = Carrier::FullScale(header.step());
    let current = Scale::of_current(logger, current, carrier)?;
    let voltage = logger
        .voltage
        .as_ref()
        .map(|v| Scale::of_voltage(logger, v, carrier))
        .transpose()?;
    let scales = [current, voltage.unwrap_or_else(Scale::unit)];
    Ok(([Some(amps), volts, trigger], scales))
}

fn open_table(bytes: &Bytes, logger: &Logger) -> Result<Opened> {
    let head = Head::open(bytes)?;
    let (timing, columns, mut scales) = table_traces(&head.layout, logger, bytes.name())?;
    let source = Table::open(head, timing, columns)?;
    for trace in [CURRENT, VOLTAGE] {
        if columns[trace].is_some() {
            scales[trace].step = source.step(trace) * scales[trace].gain.abs();
        }
    }
    let findings = source.findings().to_vec();
    Ok(Opened {
        findings,
        ..Opened::plain(Box::new(source), scales)
    })
}

/// Returns time, columns and scales of a table according to `[logger]` or its titles.
///
/// # Errors
/// A missing column, or an ambiguous one.
pub(crate) fn table_traces(
    layout: &Layout,
    logger: &Logger,
    file: &str,
) -> Result<(Timing, [Option<usize>; TRACES], [Scale; 2])> {
    let roles = roles::of(layout, logger, file)?;
    let carrier = |k: usize| roles::carrier(&layout.columns[k]);
    let current = Scale::of_current(logger, &roles.current.1, carrier(roles.current.0))?;
    let voltage = roles
        .voltage
        .as_ref()
        .map(|(k, v)| Scale::of_voltage(logger, v, carrier(*k)))
        .transpose()?;
    let columns = [
        Some(roles.current.0),
        roles.voltage.as_ref().map(|v| v.0),
        roles.trigger,
    ];
    let scales = [current, voltage.unwrap_or_else(Scale::unit)];
    Ok((roles.timing, columns, scales))
}

/// Opens a table with unscaled columns.
///
/// # Errors
/// Unreadable file, or one without usable times.
pub(crate) fn table(bytes: &Bytes, logger: &Logger, chosen: [Option<usize>; 2]) -> Result<Table> {
    let head = Head::open(bytes)?;
    let timing = roles::timing(&head.layout, logger, bytes.name())?;
    Table::open(head, timing, [chosen[0], chosen[1], None])
}

/// Default threshold above which the trigger is on.
const TRIGGER_LEVEL: f64 = 0.5;
