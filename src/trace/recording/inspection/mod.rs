//! What is in a file, which trace is on which channel, and a `[logger]` block to start from.

mod block;
mod channel;
mod guess;

use serde::Serialize;

pub use channel::{Channel, Reading, Why};

use crate::bytes::Bytes;
use crate::error::{ErrorKind, Result};
use crate::format::counted;
use crate::job::logger::Logger;
use crate::recording::finding::Finding;
use crate::recording::open::{FileKind, Opened};
use crate::recording::scale::{Scale, Zero};
use crate::recording::source::{CURRENT, VOLTAGE};
use crate::recording::table::{Column, Content, Head, Layout};
use crate::recording::wav::Wav;
use crate::recording::{Cell, Fitted, Recording, Survey, open, roles};

/// What was seen in a file.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Inspection {
    /// The file's name.
    pub recording: String,
    /// What kind of file it is, in words.
    pub kind: String,
    /// Frames a second.
    pub rate_hz: f64,
    /// Length, s, gaps left out.
    pub seconds: f64,
    /// Gaps in it.
    pub gaps: usize,
    /// Its channels or columns.
    pub channels: Vec<Channel>,
    /// Whether current and voltage are in A and V, and not in parts of full scale.
    pub calibrated: bool,
    /// The current.
    pub current: Level,
    /// The voltage, where there is one.
    pub voltage: Option<Level>,
    /// Smallest current that shows over the noise, A: six times its rms, 1 A at least.
    pub smallest_a: Option<f64>,
    /// What speaks against measuring it.
    #[serde(serialize_with = "Finding::in_words")]
    pub findings: Vec<Finding>,
    /// A `[logger]` block to start from.
    pub logger_block: String,
    /// What was surveyed, for a picture.
    #[serde(skip)]
    pub survey: Survey,
    /// When each cell of it begins, s.
    #[serde(skip)]
    pub cells_at_s: Vec<f64>,
}

/// What a trace spans.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Level {
    /// Unit of the figures.
    pub unit: &'static str,
    /// Lowest and highest value, A or V, or % of full scale; NaN, which is null in JSON, of no sample.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// Rms of its noise at rest; `None` where it never rests.
    pub noise: Option<f64>,
}

/// Units of current and voltage once the scale is known.
const CALIBRATED: [&str; 2] = ["A", "V"];

/// Looks into a file; with a `[logger]` that has a current it is read in A and V.
///
/// # Errors
/// A file that cannot be read at all.
pub fn inspect(bytes: &Bytes, logger: &Logger) -> Result<Inspection> {
    match FileKind::of(bytes)? {
        FileKind::Wav => inspect_wav(bytes, logger),
        FileKind::Table => inspect_table(bytes, logger),
    }
}

fn inspect_wav(bytes: &Bytes, logger: &Logger) -> Result<Inspection> {
    let head = Wav::open(bytes)?;
    let header = head.header();
    let kind = format!(
        "WAV, {} bits, {}",
        header.bits,
        counted(header.channels, "channel")
    );
    let (chosen, why, recording) = match &logger.current {
        Some(current) => {
            let place = |channel: Option<u16>| channel.map(|n| usize::from(n) - 1);
            let voltage = logger.voltage.as_ref().and_then(|v| place(v.channel));
            let recording = Recording::read_from(bytes, logger)?;
            ([place(current.channel), voltage], Why::Logger, recording)
        }
        None => {
            let (chosen, why) = guess::of_wav(&head)?;
            let raw = Recording::open_raw(bytes, logger, chosen, Zero::Auto, 1.0)?;
            (chosen, why, raw)
        }
    };
    let channels = (0..header.channels).map(|k| {
        let role = role_of(k, chosen);
        Channel {
            channel: k + 1,
            title: None,
            role,
            reason: role.map(|_| why),
            numbers: true,
            reading: Reading::FullScale,
        }
    });
    let units = match logger.current {
        Some(_) => CALIBRATED,
        None => ["% of full scale"; 2],
    };
    Ok(Inspection::of(
        &recording,
        kind,
        channels.collect(),
        units,
        logger,
    ))
}

fn role_of(k: usize, [current, voltage]: guess::Pair) -> Option<&'static str> {
    match k {
        _ if current == Some(k) => Some("current"),
        _ => (voltage == Some(k)).then_some("voltage"),
    }
}

fn inspect_table(bytes: &Bytes, logger: &Logger) -> Result<Inspection> {
    let head = Head::open(bytes)?;
    let layout = &head.layout;
    let timing = roles::timing(layout, logger, bytes.name())?;
    let (chosen, why, scaled, recording) = match roles::of(layout, logger, bytes.name()) {
        Ok(found) => {
            let why = match logger.current {
                Some(_) => Why::Logger,
                None => Why::Title,
            };
            let chosen = [Some(found.current.0), found.voltage.map(|(k, _)| k)];
            (chosen, why, true, Recording::read_from(bytes, logger)?)
        }
        Err(error) if error.kind() == ErrorKind::ChannelNotNamed && logger.current.is_none() => {
            let (chosen, why) = guess::of_table(bytes, layout, logger)?.ok_or(error)?;
            let raw = Recording::open_raw(bytes, logger, chosen, Zero::Stated(0.0), 1.0)?;
            (chosen, why, false, raw)
        }
        Err(error) => return Err(error),
    };
    let channels: Vec<Channel> = layout
        .columns
        .iter()
        .enumerate()
        .map(|(k, column)| {
            let time = (timing.column() == Some(k)).then_some(("time", Why::Title));
            let role = time.or_else(|| Some((role_of(k, chosen)?, why)));
            Channel {
                channel: k + 1,
                title: Some(column.title.clone()),
                role: role.map(|(role, _)| role),
                reason: role.map(|(_, why)| why),
                numbers: column.content == Content::Number,
                reading: roles::carrier(column).into(),
            }
        })
        .collect();
    let units = match scaled {
        true => CALIBRATED,
        false => chosen.map(|k| k.map_or("", |k| unit_of(&layout.columns[k]))),
    };
    Ok(Inspection::of(
        &recording,
        described(layout),
        channels,
        units,
        logger,
    ))
}

/// The unit that numbers are written in.
fn unit_of(column: &Column) -> &'static str {
    match column.unit.as_deref() {
        Some("a") => "A",
        Some("ma") => "mA",
        Some("ka") => "kA",
        Some("v") => "V",
        Some("mv") => "mV",
        Some("kv") => "kV",
        _ => "as written",
    }
}

fn described(layout: &Layout) -> String {
    let split = match layout.delimiter {
        b'\t' => "tabs",
        b';' => "semicolons",
        _ => "commas",
    };
    let decimal = match layout.decimal {
        b',' => ", decimal comma",
        _ => "",
    };
    format!(
        "table, {} split by {split}{decimal}",
        counted(layout.columns.len(), "column")
    )
}

impl Inspection {
    fn of(
        recording: &Recording,
        kind: String,
        channels: Vec<Channel>,
        units: [&'static str; 2],
        logger: &Logger,
    ) -> Inspection {
        let survey = recording.survey();
        let calibrated = units == CALIBRATED;
        let logger_block = match &logger.current {
            Some(_) => block::of_logger(logger),
            None => block::draft(&channels, None),
        };
        let level = |values: fn(&Cell) -> [f32; 3], noise, unit| {
            let [low, high, _] = (survey.cells.iter().map(values))
                .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1]), 0.0])
                // Of no sample there is no value: null in JSON.
                .unwrap_or([f32::NAN; 3]);
            Level {
                unit,
                low: f64::from(low),
                high: f64::from(high),
                noise,
            }
        };
        Inspection {
            recording: recording.name().to_owned(),
            kind,
            rate_hz: recording.rate_hz(),
            seconds: recording.frames() as f64 / recording.rate_hz(),
            gaps: recording.segments().len().saturating_sub(1),
            channels,
            calibrated,
            current: level(|c| c.amps, survey.noise_a, units[CURRENT]),
            voltage: recording
                .has_volts()
                .then(|| level(|c| c.volts, survey.noise_v, units[VOLTAGE])),
            smallest_a: survey
                .noise_a
                .filter(|_| calibrated)
                .map(|noise| (6.0 * noise).max(1.0)),
            findings: survey.findings.clone(),
            logger_block,
            cells_at_s: survey
                .cells
                .iter()
                .map(|c| recording.time_s(c.first))
                .collect(),
            survey: survey.clone(),
        }
    }
}

impl Recording {
    /// Opens a file without a scale: % of full scale of a WAV file, the numbers of a table times `gain`.
    pub(crate) fn open_raw(
        bytes: &Bytes,
        logger: &Logger,
        chosen: [Option<usize>; 2],
        zero: Zero,
        gain: f64,
    ) -> Result<Recording> {
        let bare = Scale {
            zero,
            gain,
            ..Scale::unit()
        };
        let (opened, unit) = match FileKind::of(bytes)? {
            FileKind::Wav => {
                let mut source = Wav::open(bytes)?;
                source.choose([chosen[0], chosen[1], None]);
                let scale = Scale {
                    gain: 100.0,
                    full_scale: Some(100.0),
                    step: 100.0 * source.header().step(),
                    ..bare
                };
                let findings = source.findings().to_vec();
                (
                    Opened {
                        findings,
                        ..Opened::plain(Box::new(source), [scale.clone(), scale])
                    },
                    "% of full scale",
                )
            }
            FileKind::Table => {
                let source = open::table(bytes, logger, chosen)?;
                let findings = source.findings().to_vec();
                (
                    Opened {
                        findings,
                        ..Opened::plain(Box::new(source), [bare.clone(), bare])
                    },
                    "",
                )
            }
        };
        Recording::examine(
            bytes.file_name(),
            Opened {
                unscaled: Some(unit),
                ..opened
            },
        )
    }
}

impl Inspection {
    /// Puts a scale that was worked out into the `[logger]` block, in place of the one there.
    pub fn take_scale(&mut self, logger: &Logger, fitted: &Fitted) {
        self.logger_block = match &logger.current {
            None => block::draft(&self.channels, Some(fitted)),
            Some(current) => block::of_logger(&Logger {
                current: Some(fitted.scaled_input(current)),
                ..logger.clone()
            }),
        };
    }
}
