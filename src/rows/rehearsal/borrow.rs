//! What is taken from recordings: rests, hum, the walk of the zero, open circuits, ripple of arcs, steps and limits.

use crate::demo::Chance;
use crate::error::Result;
use crate::job::Context;
use crate::recording::{Block, Recording};
use crate::rehearsal::hum::{Line, part_hum};
use crate::rehearsal::unround::unround;
use crate::score::StartRow;
use crate::stats::order::part_in_place;

/// Samples of current and voltage; the voltage is empty without its trace.
pub(crate) type Traces = [Vec<f64>; 2];

/// The most rest borrowed from one recording, s, and the longest piece of it.
const MOST_REST_S: f64 = 20.0;
const PIECE_S: f64 = 2.0;
/// Shortest rest that is borrowed, s.
const LEAST_PIECE_S: f64 = 0.04;
/// A voltage under this rests, V.
const RESTING_V: f64 = 5.0;
/// The zero's walk is noted this often, s.
pub(crate) const WALK_S: f64 = 0.02;
/// What lies about the edges of an open circuit is left out, s.
const EDGE_S: f64 = 1e-3;
/// Shortest open circuit that is borrowed, s.
const LEAST_OPEN_S: f64 = 4e-3;
/// A circuit that comes to nothing is open for this long at least, s.
const NO_LIGHT_S: f64 = 0.02;
/// Ripple is what an arc's current does within this time, s: two periods of 50 Hz.
const RIPPLE_S: f64 = 0.04;
/// Samples that show where ripple can be repeated from.
const LOOP_SAMPLES: usize = 256;
/// The arc after it has settled is looked at from this much later, s.
const CALM_S: f64 = 0.05;
/// Ripple shows where the current strays this many times as far as at rest.
const OVER_REST: f64 = 1.3;
/// Seed of what lies between two steps of the logger.
const SEED: u64 = 1;
/// Samples that show the logger's step.
const STEP_SAMPLES: usize = 1 << 15;

/// A burning arc.
#[derive(Debug, Clone)]
pub(crate) struct Arc {
    /// Sum of current and of voltage; what the two have together.
    pub sums: [f64; 2],
    pub together: f64,
    /// Magnitude of the current, A.
    amps: Vec<f64>,
    /// What its current does about its running mean, A: steady arcs only.
    ripple: Vec<f64>,
}

impl Arc {
    /// Magnitude of the current at a part of the order, A.
    pub fn part(&self, at: f64) -> Option<f64> {
        part_in_place(&mut self.amps.clone(), at)
    }

    pub fn mean_a(&self) -> f64 {
        self.amps.iter().sum::<f64>() / self.amps.len().max(1) as f64
    }
}

/// What is taken from the recordings of one logger.
#[derive(Debug, Clone, Default)]
pub(crate) struct Borrowed {
    /// Rests, freed of rounding, zero and hum: noise with its spectrum.
    pub rests: Vec<Traces>,
    /// Hum at rest.
    pub hum: Vec<Line>,
    /// The zero of current and voltage along each recording, every [`WALK_S`].
    pub walks: Vec<Vec<[f64; 2]>>,
    /// Open circuits about their level, sparks and pick-up in them.
    pub opens: Vec<Traces>,
    /// The arcs.
    pub arcs: Vec<Arc>,
    /// Share of an arc's ripple that rest does not explain, 0 where it shows none.
    pub ripple_part: f64,
    /// Steps of the logger, A and V; 0 where none shows.
    pub steps: [f64; 2],
    /// Current and voltage at which the traces are cut off, A and V.
    pub limits: [Option<f64>; 2],
    /// Rest borrowed, s.
    pub rest_s: f64,
}

impl Borrowed {
    /// Takes what one recording has.
    pub fn take(
        &mut self,
        recording: &Recording,
        rows: &[&StartRow],
        context: &Context,
    ) -> Result<()> {
        let rate = recording.rate_hz();
        for (first, last) in rests(recording) {
            let traces = read(recording, first..last)?;
            self.rest_s += traces[0].len() as f64 / rate;
            self.rests.push(traces);
        }
        let every = ((WALK_S * rate) as u64).max(1);
        let walk = (0..recording.frames()).step_by(every as usize);
        self.walks
            .push(walk.map(|at| recording.zeros_at(at)).collect());
        for row in rows {
            self.opens.extend(open(recording, row)?);
            self.arcs.extend(arc(recording, row, context)?);
        }
        let cut_off = recording.survey().cut_off;
        for (trace, full) in recording.full_scale().into_iter().enumerate() {
            let own = [full, cut_off[trace], self.limits[trace]];
            self.limits[trace] = own.into_iter().flatten().reduce(f64::min);
        }
        let steps = steps(recording)?;
        for (own, step) in self.steps.iter_mut().zip(steps) {
            *own = f64::max(*own, step);
        }
        Ok(())
    }

    /// Frees rests of the logger's rounding and parts hum from noise, once everything is taken.
    pub fn settle(&mut self, rate_hz: f64, mains_hz: Option<f64>) {
        let mut chance = Chance::new(SEED, 0);
        for (trace, step) in self.steps.into_iter().enumerate() {
            let rests = self.rests.iter_mut();
            rests.for_each(|rest| unround(&mut rest[trace], step, &mut chance));
        }
        let hum_at = |mains: f64| part_hum(&self.rests, rate_hz, mains);
        let power = |lines: &[Line]| lines.iter().map(|l| l.traces[0][0].powi(2)).sum::<f64>();
        let (lines, rests) = match mains_hz {
            Some(mains) => hum_at(mains),
            None => {
                let (a, b) = (hum_at(50.0), hum_at(60.0));
                if power(&a.0) > power(&b.0) { a } else { b }
            }
        };
        (self.hum, self.rests) = (lines, rests);
        let rest = rms(self.rests.iter().flat_map(|r| &r[0]));
        let hum: f64 = 0.5 * power(&self.hum);
        // Arcs are rounded still.
        let rounding = self.steps[0].powi(2) / 12.0;
        let at_rest = (rest * rest + hum + rounding).sqrt();
        let burning = rms(self.arcs.iter().flat_map(|a| &a.ripple));
        self.ripple_part = match burning > OVER_REST * at_rest {
            true => (1.0 - (at_rest / burning).powi(2)).sqrt(),
            false => 0.0,
        };
    }

    /// The ripple of the arcs over their current.
    pub fn ripples(&self) -> Vec<Vec<f64>> {
        if self.ripple_part == 0.0 {
            return Vec::new();
        }
        let steady = self.arcs.iter().filter(|arc| !arc.ripple.is_empty());
        let relative = |arc: &Arc| {
            let scale = self.ripple_part / arc.mean_a();
            arc.ripple.iter().map(|x| scale * x).collect()
        };
        steady.map(relative).collect()
    }
}

pub(crate) fn rms<'a>(values: impl Iterator<Item = &'a f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0usize), |(s, n), x| (s + x * x, n + 1));
    (sum / count.max(1) as f64).sqrt()
}

fn read(recording: &Recording, range: std::ops::Range<u64>) -> Result<Traces> {
    let mut block = Block::default();
    recording.read(range, &mut block)?;
    Ok([block.amps, block.volts])
}

/// Frames of the rests: cells without current in a row, the voltage at rest too.
fn rests(recording: &Recording) -> Vec<(u64, u64)> {
    let (survey, rate) = (recording.survey(), recording.rate_hz());
    let quiet = |k: &&usize| {
        let [low, high, mean] = survey.cells[**k].volts;
        !recording.has_volts() || f64::from(mean.abs()) < RESTING_V && f64::from(high - low) < 30.0
    };
    let mut found: Vec<(u64, u64)> = Vec::new();
    let piece = (PIECE_S * rate) as u64;
    for k in survey.idle.iter().filter(quiet) {
        let (first, end) = (
            survey.cells[*k].first,
            survey.cells[*k].first + u64::from(survey.cells[*k].frames),
        );
        match found.last_mut() {
            Some(last) if last.1 == first && end - last.0 <= piece => last.1 = end,
            _ => found.push((first, end)),
        }
    }
    found.retain(|(first, end)| (end - first) as f64 >= LEAST_PIECE_S * rate);
    let all: u64 = found.iter().map(|(first, end)| end - first).sum();
    // Evenly taken where there is more than is needed.
    let every = (all as f64 / (MOST_REST_S * rate)).ceil().max(1.0) as usize;
    found.into_iter().step_by(every).collect()
}

/// The open circuit of a start, its voltage about its level; where nothing conducts, its beginning.
fn open(recording: &Recording, row: &StartRow) -> Result<Option<Traces>> {
    let Some(open) = row.instants.t_open_s else {
        return Ok(None);
    };
    let first = row.instants.t_first_s.unwrap_or(open + NO_LIGHT_S);
    if !recording.has_volts() || first - open < LEAST_OPEN_S {
        return Ok(None);
    }
    let Some(range) = frames(recording, open + EDGE_S, first - EDGE_S) else {
        return Ok(None);
    };
    let mut traces = read(recording, range)?;
    let level = part_in_place(&mut traces[1].clone(), 0.5).unwrap_or(0.0);
    traces[1].iter_mut().for_each(|x| *x -= level);
    Ok(Some(traces))
}

/// The arc of a start that nothing upset.
fn arc(recording: &Recording, row: &StartRow, context: &Context) -> Result<Option<Arc>> {
    let (of, m) = (&row.instants, &row.measures);
    let (Some(lit), Some(out)) = (of.t_lit_s, of.t_out_s) else {
        return Ok(None);
    };
    let calm = m.dropouts() == Some(0.0) && m.touches().is_none_or(|n| n == 0.0);
    let from = of.t_settled_s.unwrap_or(lit) + CALM_S + context.upslope_s.unwrap_or(0.0);
    let range = match frames(recording, from, (out - CALM_S).min(from + 1.0)) {
        Some(range) if calm => range,
        _ => return Ok(None),
    };
    let [amps, volts] = read(recording, range)?;
    let steady = m.ac_hz().is_none() && m.pulse_hz().is_none();
    let reach = (RIPPLE_S * recording.rate_hz()) as usize;
    Ok(Some(Arc {
        sums: [amps.iter().sum(), volts.iter().sum()],
        together: amps.iter().zip(&volts).map(|(i, v)| i * v).sum(),
        ripple: match steady {
            true => looping(about_running_mean(&amps, reach), reach),
            false => Vec::new(),
        },
        amps: amps.iter().map(|i| i.abs()).collect(),
    }))
}

/// Frames from one instant to another, where one segment holds them.
fn frames(recording: &Recording, from_s: f64, to_s: f64) -> Option<std::ops::Range<u64>> {
    let rate = recording.rate_hz();
    let holds = |s: &&crate::recording::Segment| {
        from_s >= s.from_s && to_s <= s.from_s + s.frames as f64 / rate && from_s < to_s
    };
    let segment = recording.segments().iter().find(holds)?;
    let at = |t: f64| segment.first + ((t - segment.from_s) * rate) as u64;
    let range = at(from_s)..at(to_s);
    (range.end > range.start + 8).then_some(range)
}

/// Values cut off where the first of them would go on best: a period of ripple ends as it began, however often it is repeated.
fn looping(mut values: Vec<f64>, reach: usize) -> Vec<f64> {
    let compared = reach.min(values.len() / 4);
    let ends = values.len() - 2 * compared..values.len() - compared;
    // Some of a dense trace tell.
    let every = (compared / LOOP_SAMPLES).max(1);
    let apart = |end: usize| {
        let pairs = values.iter().zip(&values[end..]).take(compared);
        let squares = pairs.step_by(every).map(|(a, b)| (a - b) * (a - b));
        squares.sum::<f64>()
    };
    let best = ends.min_by(|a, b| apart(*a).total_cmp(&apart(*b)));
    values.truncate(best.unwrap_or(0));
    values
}

/// Values less the mean of those about them; nothing of too few.
fn about_running_mean(values: &[f64], count: usize) -> Vec<f64> {
    if count == 0 || values.len() < 2 * count {
        return Vec::new();
    }
    let first: f64 = values[..count].iter().sum();
    let sums = values.iter().zip(&values[count..]);
    let mut sum = first;
    let mut means = vec![first];
    means.extend(sums.map(|(out, into)| {
        sum += into - out;
        sum
    }));
    let centre = count / 2;
    means
        .iter()
        .enumerate()
        .map(|(k, sum)| values[k + centre] - sum / count as f64)
        .collect()
}

/// Steps of the logger: the least distance between two values that differ, where the same values come again and again.
fn steps(recording: &Recording) -> Result<[f64; 2]> {
    let Some(segment) = recording.segments().first() else {
        return Ok([0.0; 2]);
    };
    let count = segment.frames.min(STEP_SAMPLES as u64);
    let first = segment.first + (segment.frames - count) / 2;
    let mut traces = read(recording, first..first + count)?;
    // The zero that was taken away moves: put it back.
    for k in 0..count as usize {
        let zeros = recording.zeros_at(first + k as u64);
        for (trace, zero) in traces.iter_mut().zip(zeros) {
            if let Some(x) = trace.get_mut(k) {
                *x += zero;
            }
        }
    }
    Ok(traces.map(|mut values| {
        values.sort_unstable_by(f64::total_cmp);
        let reach = values.last().copied().unwrap_or(0.0) - values.first().copied().unwrap_or(0.0);
        let apart = values.windows(2).map(|w| w[1] - w[0]);
        let least = apart.filter(|d| *d > 1e-7 * reach).reduce(f64::min);
        least.unwrap_or(0.0)
    }))
}
