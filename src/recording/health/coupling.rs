//! Whether the logger blocks slow changes: after an arc its trace falls past zero and comes back.

use crate::error::Result;
use crate::recording::Cell;
use crate::recording::finding::{Finding, Seen};
use crate::recording::health::{HealthCheck, LOOKED_AT};
use crate::recording::source::CURRENT;
use crate::stats::order::median_in_place;

/// What falls back to zero behind a high-pass falls to less than this part of what it was while it is looked at.
const DECAYED: f64 = 0.7;

impl HealthCheck<'_> {
    /// After a DC arc, an AC-coupled trace falls to the other side of zero and comes back like an exponential.
    pub(super) fn coupled(&mut self) -> Result<Option<Finding>> {
        let (low, high) = self.extremes(CURRENT);
        let top = high.max(-low);
        let mut taus: Vec<f64> = Vec::new();
        let falls: Vec<usize> = (1..self.cells.len().saturating_sub(4))
            .filter(|&k| {
                let (before, after) = (
                    f64::from(self.cells[k - 1].amps[2]),
                    f64::from(self.cells[k].amps[2]),
                );
                before * after < 0.0
                    && (after - before).abs() > 0.3 * top
                    && after.abs() > 0.1 * top
            })
            .take(LOOKED_AT)
            .collect();
        for &k in &falls {
            taus.extend(self.decay(k + 1));
        }
        if taus.is_empty() || 2 * taus.len() < falls.len() {
            return Ok(None);
        }
        let tau = median_in_place(&mut taus).expect("at least one value");
        Ok(Some(Finding::new(Seen::Coupled {
            tau_ms: 1e3 * tau,
            corner_hz: 1.0 / (2.0 * std::f64::consts::PI * tau),
        })))
    }

    /// Time constant, s, of cell means that fall steadily towards 0 from `from` on.
    fn decay(&self, from: usize) -> Option<f64> {
        let first = f64::from(self.cells.get(from)?.amps[2]);
        let falling = |c: &&Cell| {
            let mean = f64::from(c.amps[2]);
            mean * first > 0.0 && mean.abs() > 0.2 * first.abs()
        };
        let run: Vec<&Cell> = self.cells[from..].iter().take_while(falling).collect();
        let still = run
            .windows(2)
            .all(|w| w[1].amps[2].abs() <= w[0].amps[2].abs());
        if run.len() < 3 || !still {
            return None;
        }
        let (a, b) = (run[0], run[run.len() - 1]);
        // What only droops a little does not come back to zero.
        if f64::from(b.amps[2].abs()) > DECAYED * f64::from(a.amps[2].abs()) {
            return None;
        }
        let seconds = (b.first - a.first) as f64 / self.source.rate_hz();
        Some(seconds / f64::from(a.amps[2] / b.amps[2]).ln()).filter(|tau| tau.is_finite())
    }
}
