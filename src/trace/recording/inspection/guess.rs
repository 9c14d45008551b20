//! Which channel is the current and which the voltage, where only the traces can tell.

use crate::bytes::Bytes;
use crate::error::Result;
use crate::job::logger::Logger;
use crate::recording::inspection::channel::Why;
use crate::recording::scale::Zero;
use crate::recording::source::{CURRENT, Source, VOLTAGE};
use crate::recording::table::{Content, Layout};
use crate::recording::wav::Wav;
use crate::recording::{Recording, roles, survey};

/// Current and voltage, counted from 0.
pub(super) type Pair = [Option<usize>; 2];

/// The pair of channels of a WAV file that looks most like current and voltage.
///
/// # Errors
/// An unreadable file.
pub(super) fn of_wav(wav: &Wav) -> Result<(Pair, Why)> {
    let channels = wav.header().channels;
    let surveys = wav.survey_all()?;
    let levels: Vec<Vec<f64>> = (0..channels)
        .map(|k| survey::levels(&surveys[k / 2], [CURRENT, VOLTAGE][k % 2], wav.rate_hz()))
        .collect();
    Ok(match likeliest(&levels) {
        Some((a, b)) => ([Some(a), Some(b)], Why::Trace),
        None => ([Some(0), (channels > 1).then_some(1)], Why::Habit),
    })
}

/// The columns of a table that no title or unit tells: by their names, by a shunt's millivolts, by the traces, or by habit.
/// `None` where no column holds numbers.
///
/// # Errors
/// An unreadable file, or one without usable times.
pub(super) fn of_table(
    bytes: &Bytes,
    layout: &Layout,
    logger: &Logger,
) -> Result<Option<(Pair, Why)>> {
    let timing = roles::timing(layout, logger, bytes.name())?;
    let numbers: Vec<usize> = (0..layout.columns.len())
        .filter(|k| layout.columns[*k].content == Content::Number && timing.column() != Some(*k))
        .collect();
    let Some(&first) = numbers.first() else {
        return Ok(None);
    };
    let [current, voltage] = roles::by_words(layout);
    if let Some(a) = current {
        let other = numbers
            .iter()
            .copied()
            .find(|k| *k != a && numbers.len() == 2);
        return Ok(Some(([Some(a), voltage.or(other)], Why::Title)));
    }
    let levels = columns(bytes, logger, &numbers)?;
    if let Some((a, b)) = likeliest(&levels) {
        return Ok(Some(([Some(numbers[a]), Some(numbers[b])], Why::Trace)));
    }
    let in_millivolts = |k: &&usize| layout.columns[**k].unit.as_deref() == Some("mv");
    let shunts: Vec<usize> = numbers.iter().filter(in_millivolts).copied().collect();
    let rest = |a: usize| numbers.iter().copied().find(|k| *k != a);
    Ok(Some(match shunts[..] {
        [a] => ([Some(a), rest(a)], Why::Shunt),
        _ => ([Some(first), rest(first)], Why::Habit),
    }))
}

/// How far each cell of each column stands from the column's rest, in its own unit.
fn columns(bytes: &Bytes, logger: &Logger, numbers: &[usize]) -> Result<Vec<Vec<f64>>> {
    let mut levels = Vec::new();
    for pair in numbers.chunks(2) {
        let chosen = [pair.first().copied(), pair.get(1).copied()];
        let recording = Recording::open_raw(bytes, logger, chosen, Zero::Stated(0.0), 1.0)?;
        let cells = &recording.survey().cells;
        levels.push(from_rest(cells.iter().map(|c| f64::from(c.amps[2]))));
        if pair.len() == 2 {
            levels.push(from_rest(cells.iter().map(|c| f64::from(c.volts[2]))));
        }
    }
    Ok(levels)
}

/// A tenth of the cells are taken for a rest: those nearest to zero.
const REST: usize = 10;

fn from_rest(means: impl Iterator<Item = f64>) -> Vec<f64> {
    let means: Vec<f64> = means.collect();
    let mut nearest = means.clone();
    nearest.sort_by(|a, b| a.abs().total_cmp(&b.abs()));
    nearest.truncate(means.len().div_ceil(REST));
    let rest = crate::stats::median(&nearest).unwrap_or(0.0);
    means.iter().map(|mean| (mean - rest).abs()).collect()
}

/// The two traces that look most like current and voltage, if any do.
fn likeliest(levels: &[Vec<f64>]) -> Option<(usize, usize)> {
    let all = 0..levels.len();
    let pairs = all.clone().flat_map(|a| all.clone().map(move |b| (a, b)));
    let likely = pairs
        .filter(|(a, b)| a != b)
        .filter_map(|(a, b)| Some((likeness(&levels[a], &levels[b])?, a, b)))
        .max_by(|x, y| x.0.total_cmp(&y.0));
    likely.map(|(_, a, b)| (a, b))
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
