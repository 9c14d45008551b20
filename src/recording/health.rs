//! Is the recording fit to measure? What speaks against it, as findings with numbers.

use super::baseline::Baseline;
use super::scale::Scale;
use super::source::{CURRENT, Raw, Source, VOLTAGE};
use super::{Cell, Segment};
use crate::error::Result;
use crate::flag::{Finding, Flag};

/// How the finding begins to say that a DC arc burns on the positive electrode.
const ELECTRODE_POSITIVE: &str = "which would be electrode positive";

/// Whether a finding says no more than that: no fault where the run sheet says the same.
pub fn is_electrode_positive(finding: &Finding) -> bool {
    finding.flag == Flag::Polarity && finding.seen.contains(ELECTRODE_POSITIVE)
}

/// A trace that rests this many samples at its very end is cut off there: at full scale …
const CLIPPED_RUN: usize = 3;
/// … and below it, where an amplifier may give out.
const SOFT_RUN: usize = 8;
/// What falls back to zero behind a high-pass falls to less than this part of what it was while it is looked at.
const DECAYED: f64 = 0.7;
/// Cells read again for a look at the samples.
const LOOKED_AT: usize = 12;
/// Dropouts of 0.5 ms need two samples in them.
const SLOW_HZ: f64 = 4_000.0;
/// A zero that walks further is worth telling, A.
const DRIFT_A: f64 = 0.5;
/// Hum over this is worth telling, A rms or V rms.
const HUM: [f64; 2] = [0.25, 0.25];
/// Hum is looked for where the voltage keeps within this, V.
const STEADY_V: f32 = 15.0;
/// Highest no-load voltage of a TIG source, V peak on DC (IEC 60974-1, table 13, as machine manuals quote it).
const NO_LOAD_V: f64 = 113.0;
/// Conducting from here for these looks, A.
const CONDUCTING_A: f64 = 3.0;
/// The arc voltage is taken for wrong outside these parts of the load line.
const LOAD_LINE_PARTS: (f64, f64) = (0.4, 2.0);

/// Conventional load voltage of TIG, V (IEC 60974-1): a test-load line, good for plausibility only.
pub(crate) fn load_line(amps: f64) -> f64 {
    (10.0 + 0.04 * amps).min(34.0)
}

/// What there is to look at.
pub(crate) struct Patient<'a> {
    pub source: &'a mut dyn Source,
    pub scales: &'a [Scale; 2],
    pub zeros: &'a [Baseline; 2],
    pub cells: &'a [Cell],
    /// Indices of cells without current.
    pub idle: &'a [usize],
    pub mains_hz: Option<f64>,
    pub electrode_negative_sign: f64,
    /// The low end was restored.
    pub restored: bool,
    /// The unit of both traces where they have no scale yet.
    pub unscaled: Option<&'static str>,
    /// Where the traces were found to be cut off, A and V.
    pub cut_off: [Option<f64>; 2],
}

/// Names of the traces in findings.
const NAMES: [(&str, &str); 2] = [("current", "A"), ("voltage", "V")];

impl Patient<'_> {
    /// Everything that was seen.
    ///
    /// # Errors
    /// What reading gives.
    pub fn findings(&mut self) -> Result<Vec<Finding>> {
        let mut found = Vec::new();
        found.extend(self.short());
        for trace in [CURRENT, VOLTAGE] {
            if self.source.has(trace) {
                found.extend(self.dead(trace));
                found.extend(self.clipped(trace)?);
                found.extend(self.hum(trace)?);
            }
        }
        found.extend(self.slow());
        found.extend(self.drift());
        if !self.restored {
            found.extend(self.coupled()?);
        }
        if self.source.has(VOLTAGE) && self.unscaled.is_none() {
            found.extend(self.no_load());
            found.extend(self.arc()?);
            found.extend(self.swapped());
        }
        Ok(found)
    }

    /// Name and unit of a trace.
    fn named(&self, trace: usize) -> (&'static str, &'static str) {
        let (name, unit) = NAMES[trace];
        (name, self.unscaled.unwrap_or(unit))
    }

    fn stat(&self, cell: &Cell, trace: usize) -> [f64; 3] {
        (if trace == CURRENT {
            cell.amps
        } else {
            cell.volts
        })
        .map(f64::from)
    }

    fn extremes(&self, trace: usize) -> (f64, f64) {
        self.cells
            .iter()
            .map(|c| self.stat(c, trace))
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
                (low.min(s[0]), high.max(s[1]))
            })
    }

    fn read(&mut self, cell: &Cell, raw: &mut Raw) -> Result<()> {
        self.source
            .read(cell.first..cell.first + u64::from(cell.frames), raw)
    }

    /// Calibrated samples of a cell.
    fn samples(&mut self, cell: &Cell, raw: &mut Raw) -> Result<()> {
        self.read(cell, raw)?;
        for trace in [CURRENT, VOLTAGE] {
            let gain = self.scales[trace].gain;
            raw[trace].iter_mut().for_each(|v| *v *= gain);
            self.zeros[trace].subtract(cell.first, &mut raw[trace]);
        }
        Ok(())
    }

    /// Nothing can be said of one sample, or of none.
    fn short(&self) -> Option<Finding> {
        let frames: u64 = self.source.segments().iter().map(|s| s.frames).sum();
        (frames < 2).then(|| Finding {
            flag: Flag::ShortWindow,
            seen: format!(
                "it holds {frames} {}",
                if frames == 1 { "sample" } else { "samples" }
            ),
        })
    }

    fn dead(&self, trace: usize) -> Option<Finding> {
        let (low, high) = self.extremes(trace);
        let (name, unit) = self.named(trace);
        let still = high - low
            <= 2.5
                * self.scales[trace]
                    .step
                    .max(1e-9 * high.abs().max(low.abs()));
        let seen = format!("the {name} stays at {low:.3} {unit} throughout");
        (still && self.cells.len() > 1).then_some(Finding {
            flag: Flag::DeadChannel,
            seen,
        })
    }

    /// Samples in a row at the very end of what the trace reaches.
    fn clipped(&mut self, trace: usize) -> Result<Option<Finding>> {
        let (low, high) = self.extremes(trace);
        let (name, unit) = self.named(trace);
        let middle = 0.5 * (low + high);
        let mut raw = Raw::default();
        for (end, above) in [(high, true), (low, false)] {
            let near = |c: &&Cell| {
                let s = self.stat(c, trace);
                let reach = if above { s[1] } else { s[0] };
                (reach - end).abs() <= 1e-5 * (high - low)
            };
            let places: Vec<Cell> = self
                .cells
                .iter()
                .filter(near)
                .take(LOOKED_AT)
                .copied()
                .collect();
            let full = self.scales[trace].full_scale.is_some_and(|f| {
                // The zero was taken away; full scale counts before.
                (end + self.zeros[trace].at(places.first().map_or(0, |c| c.first))).abs()
                    >= 0.9999 * f - self.scales[trace].step
            });
            let mut longest = 0;
            for cell in &places {
                self.read(cell, &mut raw)?;
                longest = longest.max(flat_end(
                    &raw[trace],
                    above != (self.scales[trace].gain < 0.0),
                    full,
                ));
            }
            let far = (end - middle).abs() > 0.25 * (high - low) && end.abs() > 5.0;
            // No-load voltage has a flat top of its own, and a trace without noise has one everywhere.
            let soft = trace == CURRENT && !self.rests_flat(trace, end);
            let enough = if full { CLIPPED_RUN } else { SOFT_RUN };
            if far && longest >= enough && (full || soft) {
                self.cut_off[trace] = Some(end);
                let ms = 1e3 * longest as f64 / self.source.rate_hz();
                let how = if full {
                    "full scale"
                } else {
                    "below full scale"
                };
                let seen = format!(
                    "the {name} is cut off at {end:.1} {unit} ({how}), for {ms:.2} ms at the longest looked at"
                );
                return Ok(Some(Finding {
                    flag: Flag::Clipped,
                    seen,
                }));
            }
        }
        Ok(None)
    }

    /// Whether a cell away from an end of the trace has no noise at all.
    fn rests_flat(&self, trace: usize, end: f64) -> bool {
        let (low, high) = self.extremes(trace);
        let away = 0.1 * (high - low);
        let flat = |c: &Cell| {
            let [low, high, mean] = self.stat(c, trace);
            // Cells are rounded outward to single precision.
            let rounding = 1e-9 + 4.0 * f64::from(f32::EPSILON) * low.abs().max(high.abs());
            c.frames as usize > SOFT_RUN && high - low <= rounding && (mean - end).abs() > away
        };
        self.cells.iter().any(flat)
    }

    /// Mains hum in the longest idle stretch.
    fn hum(&mut self, trace: usize) -> Result<Option<Finding>> {
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
            .map(|(rms, hz)| Finding {
                flag: Flag::Hum,
                seen: format!(
                    "{rms:.2} {unit} rms of {hz:.0} Hz and its harmonics in the idle {name}"
                ),
            }))
    }

    /// The longest row of idle cells, a second at most. A circuit that opens or closes is no hum: such cells part the row.
    fn longest_idle(&self) -> Option<std::ops::Range<u64>> {
        let most = self.source.rate_hz() as u64;
        let mut best = 0..0;
        let mut open = 0..0;
        for &k in self.idle {
            let cell = &self.cells[k];
            if cell.volts[1] - cell.volts[0] > STEADY_V {
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

    fn slow(&self) -> Option<Finding> {
        let rate = self.source.rate_hz();
        let seen = format!(
            "{rate:.1} samples a second; dropouts from 0.5 ms need {SLOW_HZ:.0}, wander up to 200 Hz needs 1000"
        );
        (rate < SLOW_HZ).then_some(Finding {
            flag: Flag::SlowRate,
            seen,
        })
    }

    fn drift(&self) -> Option<Finding> {
        let (low, high) = self.zeros[CURRENT].range()?;
        let (_, unit) = self.named(CURRENT);
        let seen = format!(
            "the zero of the current goes from {low:.2} to {high:.2} {unit}; it was followed and taken away"
        );
        (high - low > DRIFT_A).then_some(Finding {
            flag: Flag::OffsetDrift,
            seen,
        })
    }

    /// After a DC arc, an AC-coupled trace falls to the other side of zero and comes back like an exponential.
    fn coupled(&mut self) -> Result<Option<Finding>> {
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
        let tau = super::baseline::median(&mut taus);
        let corner = 1.0 / (2.0 * std::f64::consts::PI * tau);
        let seen = format!(
            "levels sag and come back with {:.0} ms, as behind a {corner:.2} Hz high-pass: state high_pass_hz",
            1e3 * tau
        );
        Ok(Some(Finding {
            flag: Flag::AcCoupled,
            seen,
        }))
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

    fn no_load(&self) -> Option<Finding> {
        let mut open: Vec<f64> = self
            .idle
            .iter()
            .map(|&k| f64::from(self.cells[k].volts[2]).abs())
            .filter(|v| *v > 30.0)
            .collect();
        if open.is_empty() {
            return None;
        }
        let volts = super::baseline::median(&mut open);
        let seen = format!(
            "{volts:.0} V without current; the limit of IEC 60974-1 is {NO_LOAD_V:.0} V peak on DC"
        );
        (volts > NO_LOAD_V).then_some(Finding {
            flag: Flag::NoLoadHigh,
            seen,
        })
    }

    /// Level and sign of voltage and current in the arc.
    fn arc(&mut self) -> Result<Vec<Finding>> {
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
            super::baseline::median(&mut amps),
            super::baseline::median(&mut volts),
        );
        let line = load_line(amps.abs());
        let mut found = Vec::new();
        if !(LOAD_LINE_PARTS.0 * line..LOAD_LINE_PARTS.1 * line).contains(&volts.abs()) {
            let seen = format!(
                "{:.1} V at {:.0} A; the load line of IEC 60974-1 says {line:.1} V",
                volts.abs(),
                amps.abs()
            );
            found.push(Finding {
                flag: Flag::VoltageScale,
                seen,
            });
        }
        if amps * volts < 0.0 && volts.abs() > 1.0 {
            let seen = format!(
                "{amps:.0} A go with {volts:.1} V: one of the two is connected the other way round"
            );
            found.push(Finding {
                flag: Flag::Polarity,
                seen,
            });
        } else if amps * self.electrode_negative_sign < 0.0 {
            let seen = format!(
                "a DC arc of {amps:.0} A, {ELECTRODE_POSITIVE} by the job file: hardly so with TIG, unless the run sheet says dcep"
            );
            found.push(Finding {
                flag: Flag::Polarity,
                seen,
            });
        }
        Ok(found)
    }

    /// No-load voltage stands where there is no current. If "current" is highest where there is no "voltage", and some
    /// of it is left where "voltage" is highest, the two are likely swapped.
    fn swapped(&self) -> Option<Finding> {
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
            (!parts.is_empty()).then(|| super::baseline::median(&mut parts))
        };
        let (volts, amps) = (share(CURRENT, VOLTAGE)?, share(VOLTAGE, CURRENT)?);
        let seen = format!(
            "where the current is highest the voltage is {:.0} % of its own highest; where the voltage is highest the current is {:.0} %",
            100.0 * volts,
            100.0 * amps
        );
        (volts < 0.05 && amps > 0.1 && amps < 0.7).then_some(Finding {
            flag: Flag::ChannelsSwapped,
            seen,
        })
    }
}

/// Longest run of samples at the end that the trace reaches, unless the trace rests like that anywhere (`full` excepted).
fn flat_end(values: &[f64], above: bool, full: bool) -> usize {
    let end = values.iter().copied().fold(
        if above {
            f64::NEG_INFINITY
        } else {
            f64::INFINITY
        },
        if above { f64::max } else { f64::min },
    );
    let (mut longest, mut run, mut elsewhere) = (0, 0, 0);
    let mut resting = 1;
    for (k, &value) in values.iter().enumerate() {
        run = if value == end { run + 1 } else { 0 };
        longest = longest.max(run);
        resting = if k > 0 && value == values[k - 1] {
            resting + 1
        } else {
            1
        };
        if value != end {
            elsewhere = elsewhere.max(resting);
        }
    }
    // A noiseless trace rests everywhere, and so does one that stands at its end throughout.
    let varies = longest < values.len() && elsewhere * 3 < longest;
    if full || varies { longest } else { 0 }
}

/// Rms of a frequency and its next two harmonics, by projection on whole periods; `None` under five periods.
pub(crate) fn hum_rms(values: &[f64], rate_hz: f64, hz: f64) -> Option<f64> {
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

#[cfg(test)]
#[path = "health_tests.rs"]
mod tests;
