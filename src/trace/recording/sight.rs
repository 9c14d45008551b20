//! What the traces themselves show: how far they stray at rest, at which current and voltage arcs burn, where the circuit
//! stands open. Levels come from here, not from fixed volts and amps alone.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::baseline::Baseline;
use crate::recording::scale::Scale;
use crate::recording::source::{CURRENT, Raw, Source, VOLTAGE};
use crate::stats::order::{median_in_place, noise, part_in_place};

/// A block lasts this long, s: longer than ignition hash, shorter than anything that counts.
const BLOCK_S: f64 = 0.25e-3;
/// A block has this many samples at least …
const BLOCK_FRAMES: usize = 3;
/// … but where samples come slower than this, Hz, each is a block of its own.
const SLOW_HZ: f64 = 3_000.0;

/// Frames of a block.
pub(crate) fn block_frames(rate_hz: f64) -> usize {
    match rate_hz < SLOW_HZ {
        true => 1,
        false => BLOCK_FRAMES.max((BLOCK_S * rate_hz) as usize),
    }
}

/// The frames of a stretch in blocks: what is left over belongs to the last one.
pub(crate) fn blocks(frames: usize, block: usize) -> impl Iterator<Item = std::ops::Range<usize>> {
    let count = (frames / block).max(usize::from(frames > 0));
    (0..count).map(move |k| {
        k * block..if k + 1 == count {
            frames
        } else {
            (k + 1) * block
        }
    })
}

/// What a recording with a voltage trace shows of itself.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sight {
    /// 99 in 100 blocks of the resting current, and of the resting voltage, stay within this, A and V.
    pub rest: [f64; 2],
    /// White noise of the resting current, A rms: hum and pick-up have no part in it.
    pub white_a: f64,
    /// Magnitude of the current while arcs burn, A; `None` where none is seen.
    pub run_a: Option<f64>,
    /// Magnitude of the voltage while arcs burn, V.
    pub arc_v: Option<f64>,
    /// Magnitude of the voltage while the circuit stands open, V.
    pub open_v: Option<f64>,
}

/// Cells that are read again for each level.
const LOOKED_AT: usize = 32;
/// An arc's current is over this part of the 99.5th percentile.
const RUN_PART: f64 = 0.25;
/// An arc's voltage is read where the current is over this part of the run level.
const ARC_PART: f64 = 0.3;
/// No arc burns at less, V.
const LEAST_ARC_V: f64 = 5.0;
/// No arc burns at less, A.
const LEAST_RUN_A: f64 = 2.0;
/// The circuit is open from this multiple of the arc's voltage on: what keeps the two apart.
pub(crate) const OPEN_OVER_ARC: f64 = 1.4;
/// Place of the open circuit's level in the order of all that is as high.
const OPEN_PLACE: f64 = 0.7;
/// An open circuit is seen for this long in all, s.
const OPEN_S: f64 = 0.01;
/// A voltage over this, and over `SURELY_OVER_ARC` times the arc's, is that of an open circuit if it stands for
/// `SURELY_OPEN_S`: a strike may come a few milliseconds after the circuit opened.
const SURELY_OPEN_V: f64 = 30.0;
const SURELY_OVER_ARC: f64 = 2.0;
const SURELY_OPEN_S: f64 = 0.001;

/// What is looked at.
pub(crate) struct Look<'a> {
    pub source: &'a mut dyn Source,
    pub scales: &'a [Scale; 2],
    pub zeros: &'a [Baseline; 2],
    pub cells: &'a [Cell],
    /// Indices of cells in which the current rests, and in which the voltage does.
    pub rest: [&'a [usize]; 2],
}

/// Medians of |current| and |voltage| of a block.
type Pair = [f64; 2];

impl Look<'_> {
    /// The levels.
    ///
    /// # Errors
    /// What reading gives.
    pub fn sight(&mut self) -> Result<Sight> {
        let mut rest = [0.0; 2];
        for trace in [CURRENT, VOLTAGE] {
            let resting = self.blocks_of(self.rest[trace])?;
            rest[trace] = place(&resting, trace, 0.99);
        }
        let reach = |c: &Cell| f64::from(c.amps[1].max(-c.amps[0]));
        let mut idle = vec![false; self.cells.len()];
        self.rest[VOLTAGE].iter().for_each(|k| idle[*k] = true);
        let busy: Vec<usize> = (0..self.cells.len()).filter(|k| !idle[*k]).collect();
        let mut reaches: Vec<f64> = busy.iter().map(|k| reach(&self.cells[*k])).collect();
        let top = part_in_place(&mut reaches, 0.9).unwrap_or(0.0);
        let burning = |k: &usize| reach(&self.cells[*k]) >= 0.5 * top;
        let arcs: Vec<usize> = busy.iter().copied().filter(burning).collect();
        let arcs = self.blocks_of(&arcs)?;
        let most = place(&arcs, CURRENT, 0.995);
        let run_a = median(&arcs, CURRENT, |b| b[CURRENT] > RUN_PART * most);
        let run_a = run_a.filter(|a| *a > LEAST_RUN_A.max(2.0 * rest[CURRENT]));
        let arc_v = run_a.and_then(|run| {
            median(&arcs, VOLTAGE, |b| {
                b[CURRENT] > ARC_PART * run && b[VOLTAGE] > LEAST_ARC_V.max(1.5 * rest[VOLTAGE])
            })
        });
        let mut sight = Sight {
            rest,
            white_a: self.white_a()?,
            run_a,
            arc_v,
            open_v: None,
        };
        sight.open_v = self.open(&busy, &sight)?;
        Ok(sight)
    }

    /// Where the circuit stands open: apart from the arcs, or else as high as anything without current.
    fn open(&mut self, busy: &[usize], sight: &Sight) -> Result<Option<f64>> {
        let arc = sight.arc_v.unwrap_or(LEAST_ARC_V);
        let touch = 0.45 * arc;
        let low_a = sight
            .run_a
            .map_or(f64::INFINITY, |run| 0.1 * run)
            .max(2.0 * sight.rest[0]);
        let open = |k: &usize| {
            let c = &self.cells[*k];
            let mean_a = f64::from(c.amps[2].abs());
            f64::from(c.volts[1].max(-c.volts[0])) > touch && mean_a < 3.0 * low_a
        };
        let candidates: Vec<usize> = busy.iter().copied().filter(open).collect();
        let (rate, block) = (self.source.rate_hz(), block_frames(self.source.rate_hz()));
        let of = |blocks: &[Pair], over: f64, under: f64, for_s: f64| {
            let least = (for_s * rate) as usize / block;
            let mut high: Vec<f64> = blocks
                .iter()
                .filter(|b| b[CURRENT] < under && b[VOLTAGE] > over)
                .map(|b| b[VOLTAGE])
                .collect();
            let enough = high.len() >= least.max(2);
            enough
                .then(|| part_in_place(&mut high, OPEN_PLACE))
                .flatten()
        };
        // An alternating arc has a small mean, too: a short open circuit would be lost among its cells.
        let calm = |k: &usize| {
            let c = &self.cells[*k];
            f64::from(c.amps[1].max(-c.amps[0])) < 3.0 * low_a
        };
        let calm: Vec<usize> = candidates.iter().copied().filter(calm).collect();
        let apart = OPEN_OVER_ARC * arc;
        let calm = self.blocks_of(&calm)?;
        let surely = SURELY_OPEN_V.max(SURELY_OVER_ARC * arc);
        let seen = of(&calm, apart, low_a, OPEN_S);
        if let Some(open_v) = seen.or_else(|| of(&calm, surely, low_a, SURELY_OPEN_S)) {
            return Ok(Some(open_v));
        }
        // Shorter than a cell, it shares its cell with the arc that follows.
        let high = |k: &usize| {
            let c = &self.cells[*k];
            f64::from(c.volts[1].max(-c.volts[0])) > surely
        };
        let shared: Vec<usize> = busy.iter().copied().filter(high).collect();
        let shared = self.blocks_of(&shared)?;
        if let Some(open_v) = of(&shared, surely, low_a, SURELY_OPEN_S) {
            return Ok(Some(open_v));
        }
        let blocks = self.blocks_of(&candidates)?;
        let quiet = (1.5 * sight.rest[0]).max(0.015 * sight.run_a.unwrap_or(0.0));
        let over = touch.max(2.0 * sight.rest[1]);
        let seen = of(&blocks, apart, low_a, OPEN_S);
        Ok(seen.or_else(|| of(&blocks, over, quiet.max(1e-9), OPEN_S)))
    }

    /// The median white noise of the cells in which the current rests.
    fn white_a(&mut self) -> Result<f64> {
        let (cells, mut raw) = (self.rest[CURRENT], Raw::default());
        let mut noises = Vec::new();
        for &k in spread(cells) {
            let cell = &self.cells[k];
            let range = cell.first..cell.first + u64::from(cell.frames);
            self.source.read(range, &mut raw)?;
            noises.push(noise(&raw[CURRENT]));
        }
        let raw = median_in_place(&mut noises).unwrap_or(0.0);
        Ok(raw * self.scales[CURRENT].gain.abs())
    }

    /// Blocks of some of these cells, evenly spread.
    fn blocks_of(&mut self, cells: &[usize]) -> Result<Vec<Pair>> {
        let block = block_frames(self.source.rate_hz());
        let (mut raw, mut found) = (Raw::default(), Vec::new());
        for &k in spread(cells) {
            let cell = &self.cells[k];
            let range = cell.first..cell.first + u64::from(cell.frames);
            self.source.read(range, &mut raw)?;
            for trace in [CURRENT, VOLTAGE] {
                let gain = self.scales[trace].gain;
                raw[trace].iter_mut().for_each(|v| *v *= gain);
                self.zeros[trace].subtract(cell.first, &mut raw[trace]);
            }
            for range in blocks(cell.frames as usize, block) {
                let middle = |trace: usize| {
                    let values = &mut raw[trace][range.clone()];
                    median_in_place(values).unwrap_or(0.0).abs()
                };
                let pair = [CURRENT, VOLTAGE].map(middle);
                found.push(pair);
            }
        }
        Ok(found)
    }
}

/// This many of some cells as are looked at, evenly spread.
fn spread(cells: &[usize]) -> impl Iterator<Item = &usize> {
    let every = cells.len().div_ceil(LOOKED_AT).max(1);
    cells.iter().step_by(every)
}

/// The value at a part of the order; 0 of nothing.
fn place(blocks: &[Pair], trace: usize, part: f64) -> f64 {
    let mut values: Vec<f64> = blocks.iter().map(|b| b[trace]).collect();
    part_in_place(&mut values, part).unwrap_or(0.0)
}

fn median(blocks: &[Pair], trace: usize, of: impl Fn(&Pair) -> bool) -> Option<f64> {
    let chosen = blocks.iter().filter(|b| of(b)).map(|b| b[trace]);
    median_in_place(&mut chosen.collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use crate::recording::Recording;
    use tipstrike_demo::Chance;

    use super::*;

    const RATE_HZ: f64 = 10_000.0;

    /// What is seen of ten starts: rest, an open circuit of this many volts and milliseconds, an arc of 80 A and 12 V; with noise of
    /// 0.2 A and 0.1 V, and hum of this many amps.
    fn seen(open_v: f64, open_ms: usize, hum_a: f64) -> Sight {
        let mut chance = Chance::new(15, 4);
        let (mut amps, mut volts) = (Vec::new(), Vec::new());
        for _ in 0..10 {
            for (ms, i, v) in [(400, 0.0, 0.0), (open_ms, 0.0, open_v), (600, 80.0, 12.0)] {
                for _ in 0..10 * ms {
                    let t = amps.len() as f64 / RATE_HZ;
                    let hum = hum_a * (std::f64::consts::TAU * 50.0 * t).sin();
                    let (a, b) = chance.normals();
                    amps.push(i + hum + 0.2 * a);
                    volts.push(v + 0.1 * b);
                }
            }
        }
        let recording = Recording::from_samples("made", RATE_HZ, amps, volts);
        recording.survey().sight.unwrap()
    }

    fn near(seen: Option<f64>, expected: f64) {
        let off = seen.map(|seen| (seen / expected - 1.0).abs());
        assert!(
            off.is_some_and(|off| off < 0.03),
            "{seen:?} is not {expected}"
        );
    }

    #[test]
    fn levels_are_those_of_the_arcs_and_the_open_circuit() {
        for (open_v, open_ms) in [(70.0, 100), (70.0, 4), (18.0, 100)] {
            let sight = seen(open_v, open_ms, 0.0);
            near(sight.run_a, 80.0);
            near(sight.arc_v, 12.0);
            near(sight.open_v, open_v);
        }
    }

    /// 99 in 100 medians of three samples of noise σ stay within 1.73 σ (their standard deviation is 0.67 σ).
    #[test]
    fn rest_is_what_blocks_of_it_stay_within() {
        let sight = seen(70.0, 100, 0.0);
        assert!((0.27..0.42).contains(&sight.rest[0]), "{:?}", sight.rest);
        assert!((0.13..0.21).contains(&sight.rest[1]), "{:?}", sight.rest);
    }

    #[test]
    fn hum_is_no_white_noise() {
        for hum_a in [0.0, 4.0] {
            let white_a = seen(70.0, 100, hum_a).white_a;
            assert!((white_a / 0.2 - 1.0).abs() < 0.1, "{white_a} at {hum_a} A");
        }
    }

    /// Slow samples are blocks of their own; what is left over belongs to the last one.
    #[test]
    fn blocks_are_a_quarter_of_a_millisecond_or_three_samples() {
        let frames = [1e3, 2.9e3, 5e3, 20e3, 200e3].map(block_frames);
        assert_eq!(frames, [1, 1, 3, 5, 50]);
        let cut: Vec<_> = blocks(11, 3).collect();
        assert_eq!(cut, [0..3, 3..6, 6..11]);
        assert_eq!(blocks(2, 3).next(), Some(0..2));
        assert_eq!(blocks(0, 3).count(), 0);
    }
}
