//! Whether the logger blocks slow changes: between its steps a trace then falls towards zero, whatever the circuit does.
//!
//! Behind a first-order high-pass a level x that does not change is seen as y = x − 2πf·∫y dt: between two steps the trace and
//! its own integral lie on a straight line whose slope tells the corner f. A trace that is not blocked rests at its levels, and
//! the slope is 0; a current that moves by itself has slopes of its own, each another.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::baseline::Baseline;
use crate::recording::finding::Finding;
use crate::recording::health::HealthCheck;
use crate::recording::health::decay::decay;
use crate::recording::health::droop::{
    CORNERS_HZ, Droop, between_steps, centred, dot, integral, line,
};
use crate::recording::seen::Seen;
use crate::recording::source::{CURRENT, VOLTAGE};
use crate::stats::order;

/// A change from block to block of this part of the trace's top is a step.
const STEP: f64 = 0.12;
/// A stretch between steps is looked at where it begins with this part of the top or more …
const LEAST: f64 = 0.08;
/// … and for this long at the most, s.
const LONGEST_S: f64 = 0.6;
/// Stretches that agree within this part of the corner …
const AGREE: f64 = 0.35;
/// … must make this part of all, by height.
const MOST: f64 = 0.65;
/// … their corner's standard error may be this part of it …
const SURE: f64 = 0.15;
/// … and there must be this many.
const STRETCHES: usize = 3;
/// A corner is named where its standard error is under this part of it: run currents restored by it are then right within 3 %.
const NAMED: f64 = 0.008;

/// A zero moves where it does so by more than this part of the trace's top.
const ZERO_MOVES: f64 = 0.01;
/// Cells that tell what a trace is at for half of the time.
const CELLS: usize = 4096;

/// A cell in which a trace swings by this part of its top holds a step, or what alternates or pulses: noise swings by less of a current, and
/// an alternating arc by more than this of its open circuit …
const SWINGS: [f64; 2] = [0.4, 0.2];
/// … and steps make this many of the cells …
const STEPS: usize = 2;
/// … within this many to either side.
const ABOUT: usize = 3;

/// A stretch between two steps.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    corner_hz: f64,
    /// Its height over the trace's top.
    weight: f64,
}

impl HealthCheck<'_> {
    /// What is AC-coupled, and behind which corner. `high_pass_hz` serves both traces, so it is named where both need it.
    pub(super) fn coupled(&mut self) -> Result<Option<Finding>> {
        let mut droops = [None; 2];
        for trace in [CURRENT, VOLTAGE] {
            if self.source.has(trace) {
                droops[trace] = self.droop(trace)?;
            }
        }
        if droops == [None; 2] && self.source.has(VOLTAGE) {
            let (low, high) = self.extremes(CURRENT);
            droops[CURRENT] = self.runs_ahead(high.max(-low))?;
        }
        let all =
            !self.source.has(VOLTAGE) || droops[CURRENT].is_some() && droops[VOLTAGE].is_some();
        let Some(trace) = [CURRENT, VOLTAGE]
            .into_iter()
            .find(|k| droops[*k].is_some())
        else {
            return Ok(None);
        };
        let droop = droops[trace].expect("it was found");
        let alike = droops
            .iter()
            .flatten()
            .all(|d| (d.corner_hz / droop.corner_hz - 1.0).abs() < 0.1);
        let named = all && alike && droop.error < NAMED;
        let (name, _) = self.named(trace);
        Ok(Some(Finding::new(match named {
            true => Seen::Coupled {
                trace: name.to_owned(),
                corner_hz: droop.corner_hz,
            },
            false => Seen::Sagging {
                trace: name.to_owned(),
                corner_hz: droop.corner_hz,
            },
        })))
    }

    /// By cells; by two cells at a time, for on alternating current one may hold half a cycle; by samples behind steps, for a high corner
    /// has no time to show in cells; by half-waves; by the mean over whole cycles.
    fn droop(&mut self, trace: usize) -> Result<Option<Droop>> {
        let (low, high) = self.extremes(trace);
        let rate = self.source.rate_hz();
        // Parts of cycles in its cells may fall as by chance.
        if trace == CURRENT && self.has_a_mean(high.max(-low)) {
            return self.mean_dies(trace, high.max(-low));
        }
        for size in [1, 2] {
            let mut found = Vec::new();
            let top = self.top(trace, size);
            for row in self.rows(trace) {
                let step_s = f64::from(row[0].frames) * size as f64 / rate;
                let means: Vec<f64> = row
                    .chunks_exact(size)
                    .map(|c| self.mean(c, trace))
                    .collect();
                found.extend(stretches(&means, step_s, top, LONGEST_S));
            }
            if let Some(droop) = together(&found) {
                return Ok(Some(
                    self.about_its_level(trace, size, top).unwrap_or(droop),
                ));
            }
        }
        let top = high.max(-low);
        for zero in self.zeros_of(trace, top) {
            if let Some(droop) = decay(&self.behind_steps(trace, top, &zero)?) {
                return Ok(Some(droop));
            }
        }
        match self.half_waves_sag(trace, top)? {
            Some(droop) => Ok(Some(droop)),
            None => self.mean_dies(trace, top),
        }
    }

    /// The zero of a trace with this top; where it moves, what the trace is at for half of the time too: a zero that follows what a high-pass
    /// leaves of the rests hides how it falls, and a blocked trace is at its zero most of the time.
    fn zeros_of(&self, trace: usize, top: f64) -> Vec<Baseline> {
        let followed = self.zeros[trace].clone();
        let moves = |(low, high): (f64, f64)| high - low > ZERO_MOVES * top;
        let level = match followed.range().is_some_and(moves) {
            true => order::median_in_place(&mut self.with_zero(trace)),
            false => None,
        };
        [followed]
            .into_iter()
            .chain(level.map(Baseline::level))
            .collect()
    }

    /// The means of some cells, without their zero taken away.
    fn with_zero(&self, trace: usize) -> Vec<f64> {
        let zero = |c: &Cell| self.zeros[trace].at(c.first + u64::from(c.frames) / 2);
        let some = self.cells.iter().step_by(self.cells.len() / CELLS + 1);
        some.map(|c| self.stat(c, trace)[2] + zero(c)).collect()
    }

    /// The droop of a trace that is known to be blocked, about the level that its stretches themselves tell: the zero found by its
    /// rests follows what the high-pass leaves of them.
    fn about_its_level(&self, trace: usize, size: usize, top: f64) -> Option<Droop> {
        let zero = |c: &Cell| self.zeros[trace].at(c.first + u64::from(c.frames) / 2);
        let with_zero =
            |c: &[Cell]| self.mean(c, trace) + c.iter().map(zero).sum::<f64>() / c.len() as f64;
        let rows: Vec<(f64, Vec<f64>)> = self
            .rows(trace)
            .iter()
            .map(|row| {
                let step_s = f64::from(row[0].frames) * size as f64 / self.source.rate_hz();
                (step_s, row.chunks_exact(size).map(with_zero).collect())
            })
            .collect();
        let level = blocked_about(&rows, top)?;
        let found = rows.iter().flat_map(|(step_s, means)| {
            let means: Vec<f64> = means.iter().map(|y| y - level).collect();
            stretches(&means, *step_s, top, LONGEST_S)
        });
        together(&found.collect::<Vec<_>>())
    }

    /// Rows of cells of one size without a gap between them, in which a trace is calm.
    pub(super) fn rows(&self, trace: usize) -> Vec<&[Cell]> {
        let next =
            |a: &Cell, b: &Cell| a.first + u64::from(a.frames) == b.first && a.frames == b.frames;
        let rows = self.cells.chunk_by(next);
        let begins: Vec<u64> = self.source.segments().iter().map(|s| s.first).collect();
        let mut parted: Vec<&[Cell]> = Vec::new();
        let (low, high) = self.extremes(trace);
        let swing = SWINGS[trace] * high.max(-low);
        for row in rows.flat_map(|row| self.calm(row, trace, swing)) {
            let mut from = 0;
            for (k, cell) in row.iter().enumerate().skip(1) {
                if begins.binary_search(&cell.first).is_ok() {
                    parted.push(&row[from..k]);
                    from = k;
                }
            }
            parted.push(&row[from..]);
        }
        parted
    }

    /// The parts of a row in which a trace is calm but for a step now and then: the means of what alternates or pulses are no levels that
    /// could sag.
    fn calm<'a>(&self, row: &'a [Cell], trace: usize, swing: f64) -> Vec<&'a [Cell]> {
        let swings = row.iter().map(|c| self.stat(c, trace));
        let swings: Vec<bool> = swings.map(|[low, high, _]| high - low > swing).collect();
        let busy = |k: usize| {
            let about = &swings[k.saturating_sub(ABOUT)..(k + ABOUT + 1).min(row.len())];
            about.iter().filter(|swings| **swings).count() > STEPS
        };
        let busy: Vec<bool> = (0..row.len()).map(busy).collect();
        let (mut parts, mut at) = (Vec::new(), 0_usize);
        for chunk in busy.chunk_by(|a, b| a == b) {
            if !chunk[0] {
                // With the step that it begins with, and a cell before that.
                parts.push(&row[at.saturating_sub(STEPS + 1)..at + chunk.len()]);
            }
            at += chunk.len();
        }
        parts
    }

    fn mean(&self, cells: &[Cell], trace: usize) -> f64 {
        cells.iter().map(|c| self.stat(c, trace)[2]).sum::<f64>() / cells.len() as f64
    }

    /// What this many cells at a time reach in the mean.
    fn top(&self, trace: usize, size: usize) -> f64 {
        let blocks = self.cells.chunks_exact(size);
        blocks
            .map(|c| self.mean(c, trace).abs())
            .fold(0.0, f64::max)
    }
}

/// The stretches between steps of a row of block means.
fn stretches(means: &[f64], step_s: f64, top: f64, longest_s: f64) -> Vec<Stretch> {
    let rows = between_steps(means, step_s, STEP * top, longest_s).into_iter();
    let high = rows.filter(|row| row[0].abs() >= LEAST * top);
    let stretch = |row: &[f64]| {
        Some(Stretch {
            corner_hz: line(row, step_s)?.corner_hz,
            weight: row[0].abs() / top,
        })
    };
    high.filter_map(stretch).collect()
}

/// The level that a high-pass blocks a trace about: y = x − 2πf·(∫y dt − level·t) in every stretch of rows of block means, each
/// with its step in s, by least squares.
fn blocked_about(rows: &[(f64, Vec<f64>)], top: f64) -> Option<f64> {
    let (mut yi, mut yt, mut ii, mut it, mut tt) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (step_s, means) in rows {
        for row in between_steps(means, *step_s, STEP * top, LONGEST_S) {
            let i = centred(integral(row, *step_s));
            let t = centred((0..row.len()).map(|k| k as f64 * step_s).collect());
            yi += dot(row, &i);
            yt += dot(row, &t);
            ii += dot(&i, &i);
            it += dot(&i, &t);
            tt += dot(&t, &t);
        }
    }
    let by_integral = yi * tt - yt * it;
    (by_integral < 0.0).then(|| -(yt * ii - yi * it) / by_integral)
}

/// What stretches agree on; `None` where most do not.
fn together(found: &[Stretch]) -> Option<Droop> {
    let mut sorted = found.to_vec();
    sorted.sort_by(|a, b| a.corner_hz.total_cmp(&b.corner_hz));
    let whole: f64 = sorted.iter().map(|s| s.weight).sum();
    let mut sum = 0.0;
    let middle = sorted.iter().find(|s| {
        sum += s.weight;
        sum >= 0.5 * whole
    })?;
    let corner_hz = middle.corner_hz;
    if sorted.len() < STRETCHES || !(CORNERS_HZ.0..CORNERS_HZ.1).contains(&corner_hz) {
        return None;
    }
    let off = |s: &&Stretch| (s.corner_hz / corner_hz - 1.0).abs();
    let agree = sorted
        .iter()
        .filter(|s| off(s) < AGREE)
        .map(|s| s.weight)
        .sum::<f64>();
    let mut offs: Vec<f64> = sorted.iter().map(|s| off(&s)).collect();
    let error = 1.4826 * order::median_in_place(&mut offs)? / (sorted.len() as f64).sqrt();
    (agree >= MOST * whole && error <= SURE).then_some(Droop { corner_hz, error })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Step response of a first-order high-pass, from its closed form exp(−2πf·t): arcs of 0.5 s of 80 A with 0.5 s between.
    fn blocked(corner_hz: f64, step_s: f64) -> Vec<f64> {
        let (mut x, mut y) = (0.0, 0.0);
        let keep = (-std::f64::consts::TAU * corner_hz * step_s / 50.0).exp();
        let fine = (0..(6.0 / step_s) as usize * 50).map(|k| {
            let t = k as f64 * step_s / 50.0;
            let next = if t % 1.0 > 0.5 { 80.0 } else { 0.0 };
            y = keep * (y + next - x);
            x = next;
            y
        });
        let fine: Vec<f64> = fine.collect();
        fine.chunks(50)
            .map(|c| c.iter().sum::<f64>() / 50.0)
            .collect()
    }

    #[test]
    fn the_corner_is_that_of_the_high_pass() {
        for hz in [1.0, 2.0, 5.0] {
            let found = stretches(&blocked(hz, 0.01), 0.01, 80.0, LONGEST_S);
            let droop = together(&found).unwrap();
            assert!((droop.corner_hz / hz - 1.0).abs() < 0.01, "{droop:?}");
            assert!(found.len() >= 8 && droop.error < NAMED, "{droop:?}");
        }
    }

    /// Levels, a down-slope of a second and a pedal: no two stretches tell one corner.
    #[test]
    fn a_trace_that_rests_at_its_levels_or_moves_by_itself_is_not_coupled() {
        let level = |k: usize| if k % 100 > 50 { 80.0 } else { 0.0 };
        let slope = |k: usize| match k % 300 {
            0..50 => 0.0,
            50..150 => 80.0,
            k @ 150..250 => 80.0 - 0.7 * (k - 150) as f64,
            _ => 0.0,
        };
        let pedal = |k: usize| match k % 200 {
            0..50 => 0.0,
            k => 60.0 + 20.0 * (0.07 * (k + k % 7) as f64).sin(),
        };
        for wave in [level as fn(usize) -> f64, slope, pedal] {
            let means: Vec<f64> = (0..1200).map(wave).collect();
            let found = stretches(&means, 0.01, 80.0, LONGEST_S);
            assert_eq!(together(&found), None);
        }
    }
}
