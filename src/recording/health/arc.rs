//! What a welding circuit must look like: no-load voltage, the arc on the load line, signs that go together, roles.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::finding::{Finding, Seen};
use crate::recording::health::{HealthCheck, LOOKED_AT};
use crate::recording::source::{CURRENT, Raw, VOLTAGE};
use crate::stats::order::median_in_place;

/// Highest no-load voltage of a TIG source, V peak on DC (IEC 60974-1, table 13, as machine manuals quote it).
const NO_LOAD_V: f64 = 113.0;
/// Conducting from here for these looks, A.
const CONDUCTING_A: f64 = 3.0;
/// The arc voltage is taken for wrong outside these parts of the load line.
const LOAD_LINE_PARTS: (f64, f64) = (0.4, 2.0);

/// Conventional load voltage of TIG, V (IEC 60974-1): a test-load line, good for plausibility only.
pub(super) fn load_line(amps: f64) -> f64 {
    (10.0 + 0.04 * amps).min(34.0)
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
        let burning = |c: &&Cell| {
            c.amps[0] * c.amps[1] > 0.0
                && f64::from(c.amps[0].abs().min(c.amps[1].abs())) > CONDUCTING_A
        };
        let dc: Vec<Cell> = self.cells.iter().filter(burning).copied().collect();
        if dc.is_empty() {
            return Ok(Vec::new());
        }
        let every = dc.len().div_ceil(LOOKED_AT);
        let (mut amps, mut volts, mut raw) = (Vec::new(), Vec::new(), Raw::default());
        for cell in dc.iter().step_by(every) {
            self.samples(cell, &mut raw)?;
            amps.push(raw[CURRENT].iter().sum::<f64>() / raw[CURRENT].len() as f64);
            volts.push(raw[VOLTAGE].iter().sum::<f64>() / raw[VOLTAGE].len() as f64);
        }
        let (amps, volts) = (
            median_in_place(&mut amps).expect("at least one value"),
            median_in_place(&mut volts).expect("at least one value"),
        );
        let line_v = load_line(amps.abs());
        let mut found = Vec::new();
        if !(LOAD_LINE_PARTS.0 * line_v..LOAD_LINE_PARTS.1 * line_v).contains(&volts.abs()) {
            found.push(Finding::new(Seen::OffLoadLine {
                volts: volts.abs(),
                amps: amps.abs(),
                line_v,
            }));
        }
        if amps * volts < 0.0 && volts.abs() > 1.0 {
            found.push(Finding::new(Seen::SignsDiffer { amps, volts }));
        } else if amps * self.electrode_negative_sign < 0.0 {
            found.push(Finding::new(Seen::ElectrodePositive { amps }));
        }
        Ok(found)
    }

    /// No-load voltage stands where there is no current. If "current" is highest where there is no "voltage", and some
    /// of it is left where "voltage" is highest, the two are likely swapped.
    pub(super) fn swapped(&self) -> Option<Finding> {
        let reach = |trace: usize| {
            let (low, high) = self.extremes(trace);
            high.max(-low)
        };
        let tops = [reach(CURRENT), reach(VOLTAGE)];
        let share = |when: usize, of: usize| {
            let part = |c: &Cell, trace: usize| self.stat(c, trace)[2].abs() / tops[trace];
            let mut parts: Vec<f64> = self
                .cells
                .iter()
                .filter(|c| part(c, when) > 0.7)
                .map(|c| part(c, of))
                .collect();
            median_in_place(&mut parts)
        };
        let (volts, amps) = (share(CURRENT, VOLTAGE)?, share(VOLTAGE, CURRENT)?);
        let seen = Seen::Swapped {
            volts_pct: 100.0 * volts,
            amps_pct: 100.0 * amps,
        };
        let swapped = volts < 0.05 && amps > 0.1 && amps < 0.7;
        swapped.then(|| Finding::new(seen))
    }
}
