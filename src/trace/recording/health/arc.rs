//! What a welding circuit must look like: no-load voltage, the arc on the load line, signs that go together, roles.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::finding::Finding;
use crate::recording::health::{HealthCheck, LOOKED_AT};
use crate::recording::seen::{Polarity, Seen};
use crate::recording::source::{CURRENT, Raw, VOLTAGE};
use crate::stats::order::{median_in_place, median_of_magnitudes, part_in_place};

/// Highest no-load voltage of a TIG source, V peak on DC (IEC 60974-1, table 13, as machine manuals quote it).
const NO_LOAD_V: f64 = 113.0;
/// Conducting from here for these looks, A …
const CONDUCTING_A: f64 = 3.0;
/// … and from this part of the current that arcs burn at.
const CONDUCTING_PART: f64 = 0.3;
/// Under this part of the higher voltages while it conducts, it touches.
const TOUCH_PART: f64 = 0.45;
/// The arc voltage is taken for wrong outside these parts of the load line.
const LOAD_LINE_PARTS: (f64, f64) = (0.4, 2.0);
/// A direct arc from this current on, A, stands below the load line; the leads, or a divider, add what lies over
/// `DIRECT_PART` of the line and `DIRECT_V` more (common practice, no source: a short argon arc is several volts lower).
const DIRECT_A: f64 = 30.0;
const DIRECT_PART: f64 = 1.2;
const DIRECT_V: f64 = 0.5;
/// Over the load line an arc's voltage that has come with the current by more than this, V, is partly the leads' …
const LEADS_V: f64 = 2.0;
/// … and where it has come by less than this, V, it is the arc's own …
const OWN_V: f64 = 1.0;
/// … but where the strikes do not tell, the leads' from so far over the line, V.
const UNTOLD_V: f64 = 2.0;

/// Conventional load voltage of TIG, V (IEC 60974-1): a test-load line, good for plausibility only.
pub(super) fn load_line(amps: f64) -> f64 {
    (10.0 + 0.04 * amps).min(34.0)
}

/// Currents and voltages of arcs: without touches, which may outlast them, and without cells in which the arc burns less than half of
/// the time, as one that reignites one way only.
fn arcing(mut pairs: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    pairs.retain(|p| p.0.abs() >= CONDUCTING_A);
    let mut volts: Vec<f64> = pairs.iter().map(|p| p.1.abs()).collect();
    let arc = part_in_place(&mut volts, 0.9).unwrap_or(0.0);
    pairs.retain(|p| p.1.abs() >= TOUCH_PART * arc);
    pairs
}

impl HealthCheck<'_> {
    pub(super) fn no_load(&self) -> Option<Finding> {
        let mut open: Vec<f64> = self
            .idle
            .iter()
            .map(|&k| f64::from(self.cells[k].volts[2]).abs())
            .filter(|v| *v > 30.0)
            .collect();
        if open.is_empty() {
            return None;
        }
        let volts = median_in_place(&mut open).expect("at least one value");
        let limit_v = NO_LOAD_V;
        (volts > limit_v).then(|| Finding::new(Seen::NoLoadHigh { volts, limit_v }))
    }

    /// Level and sign of voltage and current in the arc.
    pub(super) fn arc(&mut self) -> Result<Vec<Finding>> {
        let cells = self.conducting();
        let (dc, ac): (Vec<Cell>, Vec<Cell>) =
            cells.iter().partition(|c| c.amps[0] * c.amps[1] > 0.0);
        // A lead-in of one sign does not make an alternating arc a direct one.
        let alternates = ac.len() > dc.len();
        let cells = if alternates { ac } else { dc };
        let every = cells.len().div_ceil(LOOKED_AT).max(1);
        let (mut pairs, mut raw) = (Vec::new(), Raw::default());
        for cell in cells.iter().step_by(every) {
            self.samples(cell, &mut raw)?;
            let mut level = |trace: usize| match alternates {
                true => median_of_magnitudes(&raw[trace]),
                false => median_in_place(&mut raw[trace]),
            };
            pairs.extend(level(CURRENT).zip(level(VOLTAGE)));
        }
        let (mut amps, mut volts): (Vec<f64>, Vec<f64>) = arcing(pairs).into_iter().unzip();
        let levels = median_in_place(&mut amps).zip(median_in_place(&mut volts));
        match levels {
            Some((amps, volts)) => self.arc_levels(amps, volts, alternates),
            None => Ok(Vec::new()),
        }
    }

    /// Cells that conduct throughout: with noise, hum or a pick-up an open circuit reaches a few amps to either side, too.
    fn conducting(&self) -> Vec<Cell> {
        let reach = |c: &Cell| f64::from(c.amps[1].max(-c.amps[0]));
        let throughout = |c: &&Cell| f64::from(c.amps[0].abs().min(c.amps[1].abs())) > CONDUCTING_A;
        let least = CONDUCTING_PART * self.run_a.unwrap_or(0.0);
        let cells = self.cells.iter().filter(throughout);
        cells.filter(|c| reach(c) >= least).copied().collect()
    }

    fn arc_levels(&mut self, amps: f64, volts: f64, alternates: bool) -> Result<Vec<Finding>> {
        let line_v = load_line(amps.abs());
        let mut found = Vec::new();
        let direct = !alternates && amps.abs() >= DIRECT_A;
        let mut highest = match direct {
            true => DIRECT_PART * line_v + DIRECT_V,
            false => LOAD_LINE_PARTS.1 * line_v,
        };
        // What stands over the line and came there with the current is no arc's alone.
        if direct && (line_v..highest).contains(&volts.abs()) {
            highest = match self.rises_with_current(amps.abs())? {
                Some(rise_v) if rise_v > LEADS_V => line_v,
                Some(rise_v) if rise_v < OWN_V => highest,
                _ => highest.min(line_v + UNTOLD_V),
            };
        }
        if !(LOAD_LINE_PARTS.0 * line_v..highest).contains(&volts.abs()) {
            found.push(Finding::new(Seen::OffLoadLine {
                volts: volts.abs(),
                amps: amps.abs(),
                line_v,
            }));
        }
        if alternates {
            return Ok(found);
        }
        if amps * volts < 0.0 && volts.abs() > 1.0 {
            found.push(Finding::new(Seen::Polarity(Polarity::SignsDiffer {
                amps,
                volts,
            })));
        } else if amps * self.electrode_negative_sign < 0.0 {
            found.push(Finding::new(Seen::Polarity(Polarity::ElectrodePositive {
                amps,
            })));
        }
        Ok(found)
    }

    /// No-load voltage stands where there is no current. If "current" is highest where there is no "voltage", and some
    /// of it is left where "voltage" is highest, the two are likely swapped.
    pub(super) fn swapped(&mut self) -> Result<Option<Finding>> {
        // What a cell holds for long: its mean, or what it reaches to both sides.
        let height = |c: &Cell, trace: usize| {
            let [low, high, mean] = self.stat(c, trace);
            mean.abs().max(high.min(-low))
        };
        let top = |trace: usize| {
            self.cells
                .iter()
                .map(|c| height(c, trace))
                .fold(0.0, f64::max)
        };
        let tops = [top(CURRENT), top(VOLTAGE)];
        let near_top = |trace: usize| -> Vec<Cell> {
            let cells = self
                .cells
                .iter()
                .filter(|c| height(c, trace) > 0.7 * tops[trace]);
            cells.copied().collect()
        };
        let cells = [near_top(CURRENT), near_top(VOLTAGE)];
        let mut share = |when: usize, of: usize| -> Result<Option<f64>> {
            let (mut parts, mut raw) = (Vec::new(), Raw::default());
            let every = cells[when].len().div_ceil(LOOKED_AT).max(1);
            for cell in cells[when].iter().step_by(every) {
                self.samples(cell, &mut raw)?;
                // The ignition's spikes stand in both: a median passes them over.
                parts.extend(median_of_magnitudes(&raw[of]).map(|level| level / tops[of]));
            }
            Ok(median_in_place(&mut parts))
        };
        let shares = share(CURRENT, VOLTAGE)?.zip(share(VOLTAGE, CURRENT)?);
        Ok(shares
            .filter(|(volts, amps)| *volts < 0.05 && *amps > 0.1 && *amps < 0.7)
            .map(|(volts, amps)| {
                Finding::new(Seen::Swapped {
                    volts_pct: 100.0 * volts,
                    amps_pct: 100.0 * amps,
                })
            }))
    }
}
