//! What is in a file, which trace is on which channel, and a `[logger]` block to start from.

use serde::Serialize;

use crate::bytes::Bytes;
use crate::error::Result;
use crate::format::counted;
use crate::job::logger::Logger;
use crate::recording::finding::Finding;
use crate::recording::open::{FileKind, Opened};
use crate::recording::scale::{Scale, Zero};
use crate::recording::source::{CURRENT, Source, VOLTAGE};
use crate::recording::table::{Content, Head};
use crate::recording::wav::Wav;
use crate::recording::{Cell, Fitted, Recording, Survey, open, roles, survey};

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
    pub reason: String,
}

/// What a trace spans.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Level {
    /// Lowest and highest value, A or V, or % of full scale; NaN, which is null in JSON, of no sample.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// Rms of its noise at rest; `None` where it never rests.
    pub noise: Option<f64>,
}

/// Why a channel is taken for what it is.
const BY_LOGGER: &str = "[logger] says so";
const BY_TITLE: &str = "by its title and unit";
const BY_TRACE: &str = "current flows where the other's no-load voltage falls";
const BY_HABIT: &str = "by habit only: nothing in the traces tells";

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
    let (chosen, reason, recording) = match &logger.current {
        Some(_) => {
            let place = |channel: Option<u16>| channel.map(|n| usize::from(n) - 1);
            let recording = Recording::read_from(bytes, logger)?;
            let current = logger.current.as_ref().and_then(|c| place(c.channel));
            (
                [
                    current,
                    logger.voltage.as_ref().and_then(|v| place(v.channel)),
                ],
                BY_LOGGER,
                recording,
            )
        }
        None => {
            let (chosen, reason) = guess(&head)?;
            (
                chosen,
                reason,
                Recording::open_raw(bytes, logger, chosen, Zero::Auto)?,
            )
        }
    };
    let channels = (0..header.channels)
        .map(|k| {
            let role = if chosen[0] == Some(k) {
                Some("current")
            } else {
                (chosen[1] == Some(k)).then_some("voltage")
            };
            let reason = role.map_or(String::new(), |_| reason.to_owned());
            Channel {
                channel: k + 1,
                title: None,
                role,
                reason,
            }
        })
        .collect();
    Ok(Inspection::of(&recording, kind, channels, logger))
}

/// The pair of channels that looks most like current and voltage.
fn guess(wav: &Wav) -> Result<([Option<usize>; 2], &'static str)> {
    let channels = wav.header().channels;
    let surveys = wav.survey_all()?;
    let levels: Vec<Vec<f64>> = (0..channels)
        .map(|k| survey::levels(&surveys[k / 2], [CURRENT, VOLTAGE][k % 2], wav.rate_hz()))
        .collect();
    let pairs =
        (0..channels).flat_map(|a| (0..channels).filter(move |b| a != *b).map(move |b| (a, b)));
    let likely = pairs
        .filter_map(|(a, b)| Some((likeness(&levels[a], &levels[b])?, a, b)))
        .max_by(|x, y| x.0.total_cmp(&y.0));
    Ok(match likely {
        Some((_, a, b)) => ([Some(a), Some(b)], BY_TRACE),
        None => ([Some(0), (channels > 1).then_some(1)], BY_HABIT),
    })
}

/// How much the levels of two traces, cell by cell, look like current and voltage, 0 to 1: where the first is high, the
/// second is low but there; where the second is high, the first is not there.
fn likeness(amps: &[f64], volts: &[f64]) -> Option<f64> {
    let top = |levels: &[f64]| levels.iter().copied().fold(0.0, f64::max);
    let (high_a, high_v) = (top(amps), top(volts));
    if high_a <= 0.0 || high_v <= 0.0 {
        return None;
    }
    let mean = |when: &dyn Fn(f64, f64) -> bool, of: &dyn Fn(f64, f64) -> f64| {
        let both = amps
            .iter()
            .zip(volts)
            .map(|(a, v)| (a / high_a, v / high_v));
        let parts: Vec<f64> = both
            .filter(|(a, v)| when(*a, *v))
            .map(|(a, v)| of(a, v))
            .collect();
        (!parts.is_empty()).then(|| parts.iter().sum::<f64>() / parts.len() as f64)
    };
    let arc = mean(&|a, _| a > 0.5, &|_, v| v)?;
    let open = mean(&|_, v| v > 0.7, &|a, _| a)?;
    ((0.05..0.6).contains(&arc) && open < 0.05).then_some(1.0 - open - arc)
}

fn inspect_table(bytes: &Bytes, logger: &Logger) -> Result<Inspection> {
    let head = Head::open(bytes)?;
    let layout = &head.layout;
    let found = roles::of(layout, logger, bytes.name())?;
    let split = match layout.delimiter {
        b'\t' => "tabs",
        b';' => "semicolons",
        _ => "commas",
    };
    let decimal = if layout.decimal == b',' {
        ", decimal comma"
    } else {
        ""
    };
    let kind = format!(
        "table, {} split by {split}{decimal}",
        counted(layout.columns.len(), "column")
    );
    let reason = if logger.current.is_some() {
        BY_LOGGER
    } else {
        BY_TITLE
    };
    let role = |k: usize| match k {
        _ if found.timing.column() == Some(k) => Some("time"),
        _ if found.current.0 == k => Some("current"),
        _ => found
            .voltage
            .as_ref()
            .filter(|(v, _)| *v == k)
            .map(|_| "voltage"),
    };
    let channels = (0..layout.columns.len())
        .map(|k| {
            let reason = match role(k) {
                Some(_) => reason.to_owned(),
                None if layout.columns[k].content == Content::Number => String::new(),
                None => "holds no numbers".to_owned(),
            };
            Channel {
                channel: k + 1,
                title: Some(layout.columns[k].title.clone()),
                role: role(k),
                reason,
            }
        })
        .collect();
    let recording = Recording::read_from(bytes, logger)?;
    Ok(Inspection::of(&recording, kind, channels, logger))
}

impl Inspection {
    fn of(
        recording: &Recording,
        kind: String,
        channels: Vec<Channel>,
        logger: &Logger,
    ) -> Inspection {
        let survey = recording.survey();
        // A table that names its units needs no scale.
        let calibrated = logger.current.is_some() || channels.iter().any(|c| c.title.is_some());
        let logger_block = match &logger.current {
            Some(_) => block_of(logger),
            None => block(&channels, None),
        };
        let level = |values: fn(&Cell) -> [f32; 3], noise| {
            let [low, high, _] = (survey.cells.iter().map(values))
                .reduce(|a, b| [a[0].min(b[0]), a[1].max(b[1]), 0.0])
                // Of no sample there is no value: null in JSON.
                .unwrap_or([f32::NAN; 3]);
            Level {
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
            current: level(|c| c.amps, survey.noise_a),
            voltage: recording
                .has_volts()
                .then(|| level(|c| c.volts, survey.noise_v)),
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
    /// Opens a file without a scale: % of full scale of a WAV file, numbers as they stand of a table.
    pub(crate) fn open_raw(
        bytes: &Bytes,
        logger: &Logger,
        chosen: [Option<usize>; 2],
        zero: Zero,
    ) -> Result<Recording> {
        let bare = Scale {
            zero,
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
            None => block(&self.channels, Some(fitted)),
            Some(current) => block_of(&Logger {
                current: Some(fitted.scaled_input(current)),
                ..logger.clone()
            }),
        };
    }
}

fn block_of(logger: &Logger) -> String {
    toml::to_string(&std::collections::BTreeMap::from([("logger", logger)]))
        .expect("a logger is a table")
}

/// A block to start from; with the scale of the current where it was worked out.
fn block(channels: &[Channel], fitted: Option<&Fitted>) -> String {
    let mut block = String::from(
        "[logger]\nmains_hz = 50                               # or 60\nelectrode_negative = \"positive\"\n",
    );
    for channel in channels {
        let Some(role) = channel.role else { continue };
        let place = match &channel.title {
            Some(title) => format!("column = {}", toml::Value::from(title.as_str())),
            None => format!("channel = {}", channel.channel),
        };
        let scale = match (role, fitted) {
            ("current", Some(fitted)) => fitted.keys(),
            ("current", None) if channel.title.is_none() => {
                ", amps_at_full_scale = 300.0".to_owned()
            }
            ("voltage", _) if channel.title.is_none() => ", volts_at_full_scale = 120.0".to_owned(),
            _ => String::new(),
        };
        let note = match (role, fitted, &channel.title) {
            ("current", Some(_), _) => "   # from the known loads",
            ("current", None, None) => "   # your own scale: inspect --known works it out",
            ("voltage", _, None) => "  # your own scale",
            _ => "",
        };
        block += &format!("{role} = {{ {place}{scale} }}{note}\n");
    }
    block
}
