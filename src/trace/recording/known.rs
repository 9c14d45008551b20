//! Works out the scale of the current from loads of known current.

use crate::bytes::Bytes;
use crate::error::{Error, ErrorKind, Place, Result};
use crate::job::logger::Logger;
use crate::recording::fitted::{AT_FULL_SCALE, Fitted, Known};
use crate::recording::open::FileKind;
use crate::recording::scale::Zero;
use crate::recording::table::Head;
use crate::recording::wav::Wav;
use crate::recording::{Block, Recording, inspection, roles};

/// Fits the scale to one load (with the idle zero) or to two.
///
/// # Errors
/// Spans outside the recording, loads that do not differ, no idle stretch for a single load.
pub fn fit(bytes: &Bytes, logger: &Logger, loads: &[Known]) -> Result<Fitted> {
    let at = bytes.name().to_owned();
    let wav = FileKind::of(bytes)? == FileKind::Wav;
    let chosen = [Some(current_of(bytes, logger, wav)?), None];
    let zero = if loads.len() == 1 {
        Zero::Auto
    } else {
        Zero::Stated(0.0)
    };
    // Raw values of a WAV file are in % of full scale; those of a table are brought to as much, so that a rest is
    // known by the same rules whether a shunt is written in V or in mV.
    let (key, unit) = match wav {
        true => (AT_FULL_SCALE, 100.0),
        false => ("amps_per_unit", 100.0 / largest(bytes, logger, chosen)?),
    };
    let recording = Recording::open_raw(bytes, logger, chosen, zero, unit)?;
    let (mut levels, mut cautions) = (Vec::new(), Vec::new());
    for load in loads {
        let (mean, u, caution) = level(&recording, load, &at)?;
        levels.push((mean, u));
        cautions.extend(caution);
    }
    let fault = |at: Place, found: &str| Error::new(ErrorKind::KnownLoad, at, found);
    let (scale, offset) = match (loads, &levels[..]) {
        ([load], _) if load.amps == 0.0 => {
            let found = "0 A alone gives the zero, not the scale";
            return Err(fault(Place::parameter("known"), found)
                .hint("Give a second load, with current flowing"));
        }
        (_, [_]) if recording.survey().noise_a.is_none() => {
            let found = "no idle stretch shows the zero";
            return Err(fault(at.into(), found).hint("Give a second known load"));
        }
        ([load], [level]) => (through_zero(load.amps, *level), None),
        ([one, two], [first, second]) => {
            let Some((gain, offset)) = through_two([one.amps, two.amps], [*first, *second]) else {
                let found = "the two loads do not differ in the trace";
                return Err(fault(at.into(), found)
                    .hint("Take loads that are well apart; 0 A counts as one"));
            };
            (gain, Some(offset))
        }
        _ => {
            let found = "expected one or two loads";
            return Err(fault(Place::parameter("known"), found));
        }
    };
    Ok(Fitted {
        key,
        scale: scale.0 * unit,
        u_scale: 2.0 * scale.1 * unit,
        offset: offset.map(|offset| offset.0),
        u_offset: offset.map(|offset| 2.0 * offset.1),
        cautions,
    })
}

/// A figure and its standard uncertainty.
type Uncertain = (f64, f64);

/// The gain by one load and the zero.
fn through_zero(amps: f64, (r, u): Uncertain) -> Uncertain {
    let gain = amps / r;
    (gain, (gain * u / r).abs())
}

/// Gain and offset by two loads; `None` where they do not differ by more than their uncertainty.
fn through_two(
    amps: [f64; 2],
    [(r1, u1), (r2, u2)]: [Uncertain; 2],
) -> Option<(Uncertain, Uncertain)> {
    let apart = r2 - r1;
    if amps[0] == amps[1] || apart.abs() <= 2.0 * u1.hypot(u2) {
        return None;
    }
    let gain = (amps[1] - amps[0]) / apart;
    let u_gain = (gain * u1.hypot(u2) / apart).abs();
    let offset = gain * r1 - amps[0];
    let u_offset = (gain * r2 / apart * u1).hypot(gain * r1 / apart * u2);
    Some(((gain, u_gain), (offset, u_offset)))
}

/// The largest reading of a table, either sign; 100 of one that holds none but zeros.
fn largest(bytes: &Bytes, logger: &Logger, chosen: [Option<usize>; 2]) -> Result<f64> {
    let raw = Recording::open_raw(bytes, logger, chosen, Zero::Stated(0.0), 1.0)?;
    let cells = raw.survey().cells.iter();
    let top = cells.map(|c| c.amps[0].abs().max(c.amps[1].abs()));
    Ok(match top.fold(0.0, f32::max) {
        0.0 => 100.0,
        top => f64::from(top),
    })
}

/// Finds the channel of the current, counted from 0: as `[logger]` says, or by the look of the traces.
fn current_of(bytes: &Bytes, logger: &Logger, wav: bool) -> Result<usize> {
    if let Some(stated) = &logger.current {
        if !wav {
            let head = Head::open(bytes)?;
            return Ok(roles::of(&head.layout, logger, bytes.name())?.current.0);
        }
        if let Some(n) = stated.channel {
            return stated_channel(bytes, n);
        }
    }
    let bare = Logger {
        current: None,
        ..logger.clone()
    };
    let seen = inspection::inspect(bytes, &bare)?;
    let is_current = |c: &inspection::Channel| c.role == Some("current");
    Ok(seen.channels.iter().position(is_current).unwrap_or(0))
}

/// A channel of a WAV file that `[logger]` names, counted from 0.
fn stated_channel(bytes: &Bytes, n: u16) -> Result<usize> {
    let channels = Wav::open(bytes)?.header().channels;
    match usize::from(n).checked_sub(1).filter(|k| *k < channels) {
        Some(k) => Ok(k),
        None => Err(Error::new(
            ErrorKind::NoSuchChannel,
            "[logger] current",
            format!("there are only {channels} channels"),
        )
        .hint("Channels are counted from 1")),
    }
}

/// Number of blocks whose means give the uncertainty of the mean.
const BLOCKS: usize = 20;

/// A load is steady if its trace stays within this fraction of its mean.
const STEADY_PART: f64 = 0.5;

/// Returns the mean over a span, its standard uncertainty from the scatter of block means, and a warning if the span
/// holds more than one level.
fn level(recording: &Recording, load: &Known, at: &str) -> Result<(f64, f64, Option<String>)> {
    let outside = || {
        Error::new(
            ErrorKind::KnownLoad,
            at,
            format!(
                "{} s to {} s does not lie within one unbroken part of the recording",
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
        return Err(Error::new(
            ErrorKind::KnownLoad,
            at,
            format!("the span holds too few samples at {rate} Hz"),
        )
        .hint("Take a longer one"));
    }
    let (mut block, mut means, mut most) = (Block::default(), Vec::new(), [0.0; 2]);
    for k in 0..BLOCKS as u64 {
        let first = range.start + k * length as u64;
        recording.read(first..first + length as u64, &mut block)?;
        means.push(block.amps.iter().sum::<f64>() / length as f64);
        let (low, high) = ends(&mut block.amps);
        most = if k == 0 {
            [low, high]
        } else {
            [low.min(most[0]), high.max(most[1])]
        };
    }
    let mean = means.iter().sum::<f64>() / BLOCKS as f64;
    let square: f64 = means.iter().map(|m| (m - mean).powi(2)).sum();
    let moves = load.amps != 0.0 && most[1] - most[0] > STEADY_PART * mean.abs();
    let caution = moves.then(|| {
        format!(
            "From {} s to {} s the unscaled trace goes from {:.3} to {:.3} with a mean of {mean:.3}: part of it is idle or alternating, so this mean does not stand for {} A.",
            load.from_s, load.to_s, most[0], most[1], load.amps
        )
    });
    // Standard deviation of the mean (JCGM 100:2008, 4.2.3).
    let u = (square / ((BLOCKS - 1) * BLOCKS) as f64).sqrt();
    Ok((mean, u, caution))
}

/// Returns the 5 % and 95 % quantiles, which ignore a few spikes.
fn ends(values: &mut [f64]) -> (f64, f64) {
    let cut = values.len() / 20;
    values.sort_unstable_by(f64::total_cmp);
    (values[cut], values[values.len() - 1 - cut])
}
