//! One pass over every sample, and what it tells: cells, zero, noise.

use crate::error::Result;
use crate::recording::baseline::Baseline;
use crate::recording::idle::{self, CellSample, Looks};
use crate::recording::pieces::with_rests;
use crate::recording::scale::{Scale, Zero};
use crate::recording::sight::Look;
use crate::recording::source::{CURRENT, Raw, RawCell, Source, Stat, VOLTAGE};
use crate::recording::{Cell, Finding, Sight, baseline};
use crate::stats::order::median_in_place;

/// Idle cells that are read again for the noise.
const NOISE_CELLS: usize = 64;
/// A rest this long, s, gives the zero a knot of its own.
const KNOT_S: f64 = 5.0;
/// A zero may lie this part of full scale from 0.
const ZERO_PART: f64 = 0.06;
/// Consistent with a normal distribution's rms: 1/Φ⁻¹(3/4).
const MAD_TO_RMS: f64 = 1.4826;

/// A cell of spikes has a noise under this part of its spread: Gaussian noise alone has about a sixth, AC about a half.
const SPIKED_PART: f64 = 0.06;

/// What one pass over every sample tells.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Survey {
    /// The whole recording in cells, in order.
    pub cells: Vec<Cell>,
    /// Idle noise of the current, A rms (1.4826 × median absolute deviation); `None` without idle stretches.
    pub noise_a: Option<f64>,
    /// Idle noise of the voltage, V rms.
    pub noise_v: Option<f64>,
    /// What the traces show at rest, open and in the arc; `None` without a voltage trace.
    pub sight: Option<Sight>,
    /// Numbers of the cells without current.
    pub idle: Vec<usize>,
    /// Where current and voltage are cut off, A and V; `None` where they are not.
    pub cut_off: [Option<f64>; 2],
    /// Health of the recording, each with what was seen.
    pub findings: Vec<Finding>,
}

/// A survey, and the zeros it found.
pub(crate) struct Surveyed {
    pub survey: Survey,
    pub zeros: [Baseline; 2],
    /// Indices of cells without current.
    pub idle: Vec<usize>,
}

/// Where the current is known to rest by the voltage, a zero that moves gets a knot as often as this, s.
const FINE_KNOT_S: f64 = 0.12;
/// A voltage that rests in a larger part of the cells tells nothing.
const ALWAYS: f64 = 0.98;
/// The voltage rests in at least this many for each cell in which the current does.
const FEWER: f64 = 0.2;
/// Where the voltage rests, a zero of the current may lie this much farther from 0 than where it has to be guessed.
const FARTHER: f64 = 1.5;
/// The zero of the current is compared with the cells about it as far as this, s.
const ABOUT_S: f64 = 1.5;
/// A current that strays farther from them is a touch, A: a zero moves by less …
const STRAYS_A: f64 = 6.0;
/// … and so is one that strays by less where the voltage strays as well, A and V: it drops in the leads.
const BOTH_STRAY: [f64; 2] = [2.0, 0.4];

/// What counts as small: A for the current, V for the voltage.
const SMALL: [f64; 2] = [1.0, 1.0];

/// Surveys a source once, finds the zeros, reads some idle cells again for the noise.
pub(crate) fn survey(source: &mut dyn Source, scales: &[Scale; 2]) -> Result<Surveyed> {
    let raw = with_rests(source.survey()?, source)?;
    let has_volts = source.has(VOLTAGE);
    let longest = (KNOT_S * source.rate_hz()) as u64;
    let traces = [CURRENT, VOLTAGE].map(|trace| places(&raw, trace, &scales[trace]));
    let all = [CURRENT, VOLTAGE].map(|trace| looks(&traces[trace], &scales[trace], SMALL[trace]));
    let (mut idle, mut rest) = rest_by_current(source, &raw, &traces, &all)?;
    let by_voltage = has_volts
        .then(|| rest_by_voltage(&traces, &all, source.rate_hz()))
        .flatten()
        // Far fewer places than the current has, and at another current: touches, where the voltage never rests.
        .filter(|by_voltage| {
            let few = (by_voltage.len() as f64) < FEWER * idle.len() as f64;
            !few || level_apart(&traces[CURRENT], by_voltage, &idle) < SMALL[CURRENT]
        });
    let fine = by_voltage
        .as_ref()
        .map(|_| (FINE_KNOT_S * source.rate_hz()) as u64);
    if let Some(by_voltage) = by_voltage {
        (idle, rest) = (by_voltage.clone(), by_voltage);
    }
    let mut zeros = [Baseline::default(), Baseline::default()];
    zeros[CURRENT] = zero(&scales[CURRENT], &traces[CURRENT], &idle, longest, fine);
    if fine.is_some() {
        zeros[CURRENT] = std::mem::take(&mut zeros[CURRENT]).bent(source.rate_hz());
    }
    if has_volts {
        zeros[VOLTAGE] = zero(&scales[VOLTAGE], &traces[VOLTAGE], &rest, longest, None);
    }
    let noise_a = noise(source, &raw, &idle, CURRENT)?.map(|n| n * scales[CURRENT].gain.abs());
    let noise_v = noise(source, &raw, &rest, VOLTAGE)?.map(|n| n * scales[VOLTAGE].gain.abs());
    let cells: Vec<Cell> = raw
        .iter()
        .map(|c| calibrated(c, scales, &zeros, has_volts))
        .collect();
    let mut look = Look {
        source,
        scales,
        zeros: &zeros,
        cells: &cells,
        rest: [&idle, &rest],
    };
    let sight = match has_volts {
        true => Some(look.sight()?),
        false => None,
    };
    let survey = Survey {
        cells,
        noise_a,
        noise_v,
        sight,
        ..Survey::default()
    };
    Ok(Surveyed {
        survey,
        zeros,
        idle,
    })
}

/// How far the current's median level in some cells lies from that in others.
fn level_apart(current: &[CellSample], these: &[usize], others: &[usize]) -> f64 {
    let level = |cells: &[usize]| {
        let mut means: Vec<f64> = cells.iter().map(|&k| current[k].stat.mean).collect();
        median_in_place(&mut means).unwrap_or(0.0)
    };
    (level(these) - level(others)).abs()
}

/// Cells in which the voltage rests and the current does what it does about them: an arc or a touch is no rest. `None`
/// where the voltage tells nothing: it rests nowhere, or always.
fn rest_by_voltage(
    [current, voltage]: &[Vec<CellSample>; 2],
    [current_looks, voltage_looks]: &[Looks; 2],
    rate_hz: f64,
) -> Option<Vec<usize>> {
    let mut rest = idle::idle(voltage, voltage_looks);
    if rest.is_empty() || rest.len() as f64 > ALWAYS * voltage.len() as f64 {
        return None;
    }
    idle::drop_ends(&mut rest);
    let farthest = current_looks.farthest * FARTHER;
    rest.retain(|&k| current[k].stat.mean.abs() <= farthest);
    leave_arcs_out(current, current_looks, &mut rest);
    let reach = (ABOUT_S * rate_hz) as u64;
    let by_current = idle::strays(current, &rest, reach);
    let by_voltage = idle::strays(voltage, &rest, reach);
    let touch = |(amps, volts): (f64, f64)| {
        amps > STRAYS_A || amps > BOTH_STRAY[CURRENT] && volts > BOTH_STRAY[VOLTAGE]
    };
    let apart = by_current.into_iter().zip(by_voltage);
    let kept: Vec<usize> = rest
        .iter()
        .zip(apart)
        .filter(|(_, apart)| !touch(*apart))
        .map(|(k, _)| *k)
        .collect();
    (!kept.is_empty()).then_some(kept)
}

/// Where a voltage lead fell off the voltage rests in arcs, too: what is so far from where the current rests by itself, as a part of
/// the farthest, is one.
const ARC_PART: f64 = 0.3;

fn leave_arcs_out(current: &[CellSample], looks: &Looks, rest: &mut Vec<usize>) {
    let mean = |k: usize| current[k].stat.mean;
    let mut idle: Vec<f64> = idle::idle(current, looks).into_iter().map(mean).collect();
    let Some(zero) = median_in_place(&mut idle) else {
        return;
    };
    let far = |k: usize| (mean(k) - zero).abs();
    let farthest = (0..current.len()).map(far).fold(0.0, f64::max);
    rest.retain(|&k| far(k) <= ARC_PART * farthest);
}

/// Cells in which the current rests, and those of them in which the voltage does too.
fn rest_by_current(
    source: &mut dyn Source,
    raw: &[RawCell],
    [current, voltage]: &[Vec<CellSample>; 2],
    [current_looks, voltage_looks]: &[Looks; 2],
) -> Result<(Vec<usize>, Vec<usize>)> {
    let mut idle = idle::idle(current, current_looks);
    if idle.is_empty() {
        idle = still_but_for_spikes(source, raw, current, current_looks)?;
    }
    let mut rest = Vec::new();
    if source.has(VOLTAGE) {
        let at_idle: Vec<CellSample> = idle.iter().map(|&k| voltage[k]).collect();
        rest = idle::idle(&at_idle, voltage_looks)
            .into_iter()
            .map(|k| idle[k])
            .collect();
    }
    Ok((idle, rest))
}

/// How far the mean of each cell lies from the trace's own zero, as a part of full scale.
pub(crate) fn levels(cells: &[RawCell], trace: usize, rate_hz: f64) -> Vec<f64> {
    let scale = Scale {
        gain: 100.0,
        full_scale: Some(100.0),
        zero: Zero::Auto,
        ..Scale::unit()
    };
    let places = places(cells, trace, &scale);
    let idle = idle::idle(&places, &looks(&places, &scale, SMALL[trace]));
    let zero = zero(&scale, &places, &idle, (KNOT_S * rate_hz) as u64, None);
    let level =
        |p: &CellSample| (p.stat.mean - zero.at(p.first + u64::from(p.frames) / 2)).abs() / 100.0;
    places.iter().map(level).collect()
}

/// Idle cells where every one has ignition hash in it, so that the spread tells nothing: the median deviation of the
/// samples must be small against the spread. A look at some cells is enough for the zero and the noise.
fn still_but_for_spikes(
    source: &mut dyn Source,
    cells: &[RawCell],
    current: &[CellSample],
    looks: &Looks,
) -> Result<Vec<usize>> {
    let near: Vec<usize> = (0..cells.len())
        .filter(|&k| current[k].stat.mean.abs() <= looks.farthest)
        .collect();
    let mut found = Vec::new();
    for &k in near.iter().step_by(near.len().div_ceil(NOISE_CELLS).max(1)) {
        let rms = noise(source, cells, &[k], CURRENT)?.unwrap_or(0.0);
        if rms < SPIKED_PART * cells[k].stats[CURRENT].spread() {
            found.push(k);
        }
    }
    Ok(found)
}

fn places(cells: &[RawCell], trace: usize, scale: &Scale) -> Vec<CellSample> {
    let place = |c: &RawCell| CellSample {
        first: c.first,
        frames: c.frames,
        stat: c.stats[trace].scaled(scale.gain),
    };
    cells.iter().map(place).collect()
}

fn looks(places: &[CellSample], scale: &Scale, small: f64) -> Looks {
    let reach = |p: &CellSample| p.stat.max.abs().max(p.stat.min.abs());
    let farthest = scale
        .full_scale
        .map_or_else(|| places.iter().map(reach).fold(0.0, f64::max), f64::abs);
    Looks {
        farthest: small.max(ZERO_PART * farthest),
        still: small,
    }
}

fn zero(
    scale: &Scale,
    places: &[CellSample],
    idle: &[usize],
    longest: u64,
    fine: Option<u64>,
) -> Baseline {
    match scale.zero {
        Zero::Stated(0.0) => Baseline::default(),
        Zero::Stated(value) => Baseline::level(value),
        Zero::Auto => baseline::baseline(places, idle, longest, fine),
    }
}

/// Raw rms of idle cells, spread over the recording, each about its own median.
fn noise(
    source: &mut dyn Source,
    cells: &[RawCell],
    idle: &[usize],
    trace: usize,
) -> Result<Option<f64>> {
    let every = idle.len().div_ceil(NOISE_CELLS).max(1);
    let mut raw = Raw::default();
    let mut deviations: Vec<f64> = Vec::new();
    for &k in idle.iter().step_by(every) {
        let cell = &cells[k];
        source.read(cell.first..cell.first + u64::from(cell.frames), &mut raw)?;
        let values = &mut raw[trace];
        let centre = median_in_place(&mut values.clone()).expect("at least one value");
        deviations.extend(values.iter().map(|v| (v - centre).abs()));
    }
    Ok(median_in_place(&mut deviations).map(|mad| MAD_TO_RMS * mad))
}

fn calibrated(cell: &RawCell, scales: &[Scale; 2], zeros: &[Baseline; 2], has_volts: bool) -> Cell {
    let trace = |k: usize| {
        let stat = cell.stats[k].scaled(scales[k].gain);
        let (first, last) = (cell.first, cell.first + u64::from(cell.frames) - 1);
        let (low, high) = zeros[k].range_within(first, last);
        outward(&Stat {
            min: stat.min - high,
            max: stat.max - low,
            mean: stat.mean - 0.5 * (zeros[k].at(first) + zeros[k].at(last)),
        })
    };
    Cell {
        first: cell.first,
        frames: cell.frames,
        amps: trace(CURRENT),
        volts: if has_volts { trace(VOLTAGE) } else { [0.0; 3] },
    }
}

/// Rounded so that no sample lies outside.
fn outward(stat: &Stat) -> [f32; 3] {
    let (min, max) = (stat.min as f32, stat.max as f32);
    [
        if f64::from(min) > stat.min {
            min.next_down()
        } else {
            min
        },
        if f64::from(max) < stat.max {
            max.next_up()
        } else {
            max
        },
        stat.mean as f32,
    ]
}
