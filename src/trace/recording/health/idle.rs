//! What shows at rest: mains hum, and a zero that walks.

use crate::error::Result;
use crate::recording::Segment;
use crate::recording::finding::Finding;
use crate::recording::health::HealthCheck;
use crate::recording::seen::Seen;
use crate::recording::source::{CURRENT, Raw};

/// A zero that walks further is worth telling, A.
const DRIFT_A: f64 = 0.5;
/// Hum over this is worth telling, A rms or V rms.
const HUM: [f64; 2] = [0.25, 0.25];
/// Hum is looked for where the voltage rests, within this of zero and from cell to cell, V: what opens up is no hum, and what an open
/// circuit shows is its rectifier's ripple.
const AT_REST_V: f32 = 3.0;

impl HealthCheck<'_> {
    /// Mains hum in the longest idle stretch.
    pub(super) fn hum(&mut self, trace: usize) -> Result<Option<Finding>> {
        let Some(range) = self.longest_idle() else {
            return Ok(None);
        };
        let mut raw = Raw::default();
        self.source.read(range, &mut raw)?;
        let (gain, rate) = (self.scales[trace].gain, self.source.rate_hz());
        let candidates: Vec<f64> = self.mains_hz.map_or(vec![50.0, 60.0], |hz| vec![hz]);
        let level = |hz: f64| hum_rms(&raw[trace], rate, hz).map(|rms| (rms * gain.abs(), hz));
        let strongest = candidates
            .into_iter()
            .filter_map(level)
            .max_by(|a, b| a.0.total_cmp(&b.0));
        let (name, unit) = self.named(trace);
        Ok(strongest
            .filter(|(rms, _)| *rms > HUM[trace])
            .map(|(rms, hz)| {
                Finding::new(Seen::Hum {
                    trace: name.to_owned(),
                    unit: unit.to_owned(),
                    rms,
                    hz,
                })
            }))
    }

    /// The longest row of idle cells, a second at most. A circuit that opens or closes is no hum: such cells part the row.
    fn longest_idle(&self) -> Option<std::ops::Range<u64>> {
        let most = self.source.rate_hz() as u64;
        let mut best = 0..0;
        let mut open = 0..0;
        for &k in self.idle {
            let cell = &self.cells[k];
            if cell.volts[2].abs() > AT_REST_V {
                continue;
            }
            let end = cell.first + u64::from(cell.frames);
            open = if open.end == cell.first && end - open.start <= most {
                open.start..end
            } else {
                cell.first..end
            };
            if open.end - open.start > best.end - best.start {
                best = open.clone();
            }
        }
        let one = |s: &Segment| s.first <= best.start && best.end <= s.first + s.frames;
        (!best.is_empty() && self.source.segments().iter().any(one)).then_some(best)
    }

    pub(super) fn drift(&self) -> Option<Finding> {
        let (low, high) = self.zeros[CURRENT].range()?;
        let (_, unit) = self.named(CURRENT);
        let unit = unit.to_owned();
        (high - low > DRIFT_A).then(|| Finding::new(Seen::ZeroDrift { low, high, unit }))
    }
}

/// Rms of a frequency and its next two harmonics, by projection on whole periods; `None` under five periods.
pub(super) fn hum_rms(values: &[f64], rate_hz: f64, hz: f64) -> Option<f64> {
    let periods = (values.len() as f64 * hz / rate_hz).floor();
    if periods < 5.0 || hz * 6.0 > rate_hz {
        return None;
    }
    let count = (periods * rate_hz / hz).round() as usize;
    let values = &values[..count.min(values.len())];
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    let power = |harmonic: f64| {
        let turn = 2.0 * std::f64::consts::PI * hz * harmonic / rate_hz;
        let (s, c) = values
            .iter()
            .enumerate()
            .fold((0.0, 0.0), |(s, c), (k, v)| {
                let (sin, cos) = (turn * k as f64).sin_cos();
                (s + (v - mean) * sin, c + (v - mean) * cos)
            });
        2.0 * (s * s + c * c) / (values.len() as f64).powi(2)
    };
    Some((power(1.0) + power(2.0) + power(3.0)).sqrt())
}
