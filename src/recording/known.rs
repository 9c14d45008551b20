//! The scale of the current from loads of known current.

use std::path::Path;

use serde::Serialize;

use super::logger::Logger;
use super::open::Kind;
use super::roles;
use super::scale::Zero;
use super::table::Head;
use super::{Block, Recording, inspect};
use crate::error::{Error, Result};

/// A load of known current in a part of a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// A.
    pub amps: f64,
    /// From here, s …
    pub from_s: f64,
    /// … to here, s.
    pub to_s: f64,
}

/// A scale worked out, with expanded uncertainties (k = 2) that follow from the scatter of the trace alone: that of
/// the meter which told the known current comes on top.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Fitted {
    /// The key that it belongs to: `amps_at_full_scale` or `amps_per_unit`.
    pub key: &'static str,
    /// Its value, A.
    pub scale: f64,
    /// Its expanded uncertainty, A.
    pub u_scale: f64,
    /// What the trace shows without current, A; `None` from a single load, where idle stretches tell it.
    pub offset: Option<f64>,
    /// Its expanded uncertainty, A.
    pub u_offset: Option<f64>,
}

impl std::str::FromStr for Known {
    type Err = String;

    /// "80 A from 2 s to 5 s".
    fn from_str(text: &str) -> Result<Known, String> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let number = |word: &str| word.parse::<f64>().ok().filter(|x| x.is_finite());
        match words[..] {
            [amps, "A", "from", from, "s", "to", to, "s"] => {
                match (number(amps), number(from), number(to)) {
                    (Some(amps), Some(from_s), Some(to_s)) if to_s > from_s => {
                        Ok(Known { amps, from_s, to_s })
                    }
                    _ => Err("three numbers were expected, the second time after the first".into()),
                }
            }
            _ => Err("write it as \"80 A from 2 s to 5 s\"".into()),
        }
    }
}

/// Works out the scale from one load (and the idle zero), or from two.
///
/// # Errors
/// Spans outside the recording, loads that do not differ, no idle stretch for a single load.
pub fn fit(path: &Path, logger: &Logger, loads: &[Known]) -> Result<Fitted> {
    let at = path.display().to_string();
    let wav = Kind::of(path)? == Kind::Wav;
    let chosen = [Some(current_of(path, logger, wav)?), None];
    let zero = if loads.len() == 1 {
        Zero::Auto
    } else {
        Zero::Stated(0.0)
    };
    let recording = Recording::open_raw(path, logger, chosen, zero)?;
    // A WAV file comes in % of full scale.
    let (key, unit) = if wav {
        ("amps_at_full_scale", 100.0)
    } else {
        ("amps_per_unit", 1.0)
    };
    let levels: Vec<(f64, f64)> = loads
        .iter()
        .map(|load| level(&recording, load, &at))
        .collect::<Result<_>>()?;
    match (loads, &levels[..]) {
        ([load], [(r, u)]) => {
            if recording.survey().noise_a.is_none() {
                return Err(
                    Error::input(at, "there is no idle stretch to tell the zero")
                        .hint("Give a second --known load"),
                );
            }
            let gain = load.amps / r;
            Ok(Fitted {
                key,
                scale: gain * unit,
                u_scale: 2.0 * (gain * u / r).abs() * unit,
                offset: None,
                u_offset: None,
            })
        }
        ([one, two], [(r1, u1), (r2, u2)]) => {
            let apart = r2 - r1;
            if one.amps == two.amps || apart.abs() <= 2.0 * u1.hypot(*u2) {
                return Err(Error::input(at, "the two loads do not differ in the trace")
                    .hint("Take loads well apart, 0 A is one"));
            }
            let gain = (two.amps - one.amps) / apart;
            let offset = gain * r1 - one.amps;
            let u_offset = (gain * r2 / apart * u1).hypot(gain * r1 / apart * u2);
            Ok(Fitted {
                key,
                scale: gain * unit,
                u_scale: 2.0 * (gain * u1.hypot(*u2) / apart).abs() * unit,
                offset: Some(offset),
                u_offset: Some(2.0 * u_offset),
            })
        }
        _ => Err(Error::input("--known", "one or two loads are taken")),
    }
}

/// The channel of the current, counted from 0: as `[logger]` says, or as the traces look.
fn current_of(path: &Path, logger: &Logger, wav: bool) -> Result<usize> {
    if wav {
        let told = inspect(
            path,
            &Logger {
                current: None,
                ..logger.clone()
            },
        )?;
        let stated = logger
            .current
            .as_ref()
            .and_then(|c| c.channel)
            .map(|n| usize::from(n).saturating_sub(1));
        let guessed = told.channels.iter().position(|c| c.role == Some("current"));
        let channel = stated.or(guessed).unwrap_or(0);
        return if channel < told.channels.len() {
            Ok(channel)
        } else {
            Err(Error::input(
                "[logger] current",
                format!("there are {} channels only", told.channels.len()),
            ))
        };
    }
    let head = Head::open(path)?;
    roles::of(&head.layout, logger, &path.display().to_string()).map(|roles| roles.current.0)
}

/// Blocks whose means tell how far the mean of a span is sure.
const BLOCKS: usize = 20;

/// Mean over a span and its standard uncertainty, from the scatter of block means.
fn level(recording: &Recording, load: &Known, at: &str) -> Result<(f64, f64)> {
    let outside = || {
        Error::input(
            at,
            format!(
                "{} s to {} s is not inside one unbroken part of the recording",
                load.from_s, load.to_s
            ),
        )
    };
    let rate = recording.rate_hz();
    let frame =
        |s: f64, segment: &super::Segment| segment.first as f64 + (s - segment.from_s) * rate;
    let inside = |s: &&super::Segment| {
        load.from_s >= s.from_s && frame(load.to_s, s) <= (s.first + s.frames) as f64
    };
    let segment = *recording
        .segments()
        .iter()
        .find(inside)
        .ok_or_else(outside)?;
    let range =
        frame(load.from_s, &segment).ceil() as u64..frame(load.to_s, &segment).floor() as u64;
    let length = range.end.saturating_sub(range.start) as usize / BLOCKS;
    if length == 0 {
        return Err(
            Error::input(at, format!("the span holds too few samples at {rate} Hz"))
                .hint("Take a longer one"),
        );
    }
    let (mut block, mut means) = (Block::default(), Vec::new());
    for k in 0..BLOCKS as u64 {
        let first = range.start + k * length as u64;
        recording.read(first..first + length as u64, &mut block)?;
        means.push(block.amps.iter().sum::<f64>() / length as f64);
    }
    let mean = means.iter().sum::<f64>() / BLOCKS as f64;
    let square: f64 = means.iter().map(|m| (m - mean).powi(2)).sum();
    // Standard deviation of the mean (JCGM 100:2008, 4.2.3).
    Ok((mean, (square / ((BLOCKS - 1) * BLOCKS) as f64).sqrt()))
}
