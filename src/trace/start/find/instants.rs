//! Instants that are known to a block become instants within a sample (docs/measures.md): each edge is looked for in both
//! traces about where the states change.

use crate::error::Result;
use crate::job::measuring::Measuring;
use crate::recording::{Recording, Segment, block_frames};
use crate::start::find::levels::{Levels, PairLevels};
use crate::start::find::phases::{ArcKind, EventGroup};
use crate::start::find::tracker::{ConductRun, Event, Span, Tracker};
use crate::start::period::period_of;
use crate::start::trace::Trace;
use crate::stats::order;

/// Looked at to either side of an edge, beside two blocks, s.
const ABOUT_S: f64 = 1.2e-3;
/// Edges of both traces nearer than this are one, s: then the current's counts, for it is what conducting means.
const AGREE_S: f64 = 0.25e-3;
/// Of the samples about an edge, this part may lie on the wrong side of the level.
const WRONG_PART: f64 = 0.12;
/// A pick-up stays under this multiple of what 95 in 100 samples before an edge stay within.
const OVER_PICKUP: f64 = 1.5;
/// Noise of over this multiple of its white part is hum for the most part.
const HUM_TIMES: f64 = 2.0;
/// Less of it, A rms, moves no level: the lowest conduct level stands over it.
const HUM_A: f64 = 0.15;
/// A level that noise raises to over this, A, is passed late by a current that rises slowly.
const RAISED_A: f64 = 3.0;
/// No more runs than this before the arc are looked at one by one.
const MANY: usize = 64;
/// Half-waves are told from a current whose spikes up to this long, s, are gone.
const SPIKE_S: f64 = 0.15e-3;
/// Half-waves are looked for this long after the window, s.
const AFTER_S: f64 = 0.03;

/// What an edge is looked for in.
pub(crate) struct Finder<'a> {
    pub recording: &'a Recording,
    pub segment: &'a Segment,
    pub measuring: &'a Measuring,
    pub levels: PairLevels,
}

impl Finder<'_> {
    /// The group with its edges where the samples say.
    ///
    /// # Errors
    /// What reading the recording gives.
    pub fn sharpen(&self, group: &EventGroup) -> Result<EventGroup> {
        let mut sharp = group.clone();
        let rate = self.recording.rate_hz();
        let kind = group.kind.unwrap_or(ArcKind::Dc);
        let until = group
            .phases(self.measuring, rate)
            .window
            .map_or(group.last_off, |w| w.off + AFTER_S * rate);
        if let Some(open) = group.open {
            let after = group
                .runs
                .first()
                .map_or(f64::INFINITY, |r| 0.5 * (open + r.span.on));
            sharp.open = Some(self.opening(open, after)?);
        }
        let count = group.runs.len();
        let reach = |k: usize| {
            let run = &group.runs[k].span;
            let before = k
                .checked_sub(1)
                .map_or(group.open, |k| Some(group.runs[k].span.off));
            let after = group.runs.get(k + 1).map(|r| r.span.on);
            let middle = 0.5 * (run.on + run.off);
            let left = Span {
                on: before.map_or(f64::NEG_INFINITY, |b| 0.5 * (b + run.on)),
                off: middle,
            };
            let right = Span {
                on: middle,
                off: after.map_or(f64::INFINITY, |a| 0.5 * (a + run.off)),
            };
            (left, right)
        };
        for k in 0..count {
            let (left, right) = reach(k);
            let run = &mut sharp.runs[k].span;
            if k < MANY && run.on <= until {
                run.on = self.begin(run.on, left, kind)?;
            }
            if k < MANY && run.off <= until || k + 1 == count {
                run.off = self.end(run.off, right)?;
            }
        }
        for low in &mut sharp.low {
            if low.on <= until {
                *low = self.touch(*low, &sharp.runs)?;
            }
        }
        if count > 0 {
            sharp.last_off = sharp.runs[count - 1].span.off;
        }
        if let ArcKind::Ac { period } = kind {
            self.half_waves(&mut sharp, period, until)?;
        }
        Ok(sharp)
    }

    /// Samples about an edge, as far as `within` goes.
    fn about(&self, at: f64, within: Span) -> Result<Trace> {
        let rate = self.recording.rate_hz();
        let reach = (2 * block_frames(rate)) as f64 + ABOUT_S * rate;
        let on = (at - reach).max(within.on);
        let span = Span {
            on,
            off: (at + reach).min(within.off).max(on + 2.0),
        };
        Trace::read(self.recording, self.segment, span, 0.0)
    }

    /// The level of the current at an edge.
    fn conduct(&self) -> Levels {
        Levels::of(self.recording.survey(), self.measuring)
    }

    fn opening(&self, at: f64, until: f64) -> Result<f64> {
        let within = Span {
            on: f64::NEG_INFINITY,
            off: until,
        };
        let trace = self.about(at, within)?;
        let level = match self.levels.open_v.is_finite() {
            true => self.levels.open_v,
            false => self.levels.idle_open_v,
        };
        Ok(edge(&trace, &trace.volts, level, true).map_or(at, |e| e.at))
    }

    /// Where a stretch of conducting begins: where the current passes its level, for that is what conducting means; where hum or a
    /// pick-up stands before it, or noise raises that level (of a direct current: an alternating one is as slow at every zero) or hides its
    /// passage, at the earlier edge of the two traces.
    fn begin(&self, at: f64, within: Span, kind: ArcKind) -> Result<f64> {
        let trace = self.about(at, within)?;
        let conduct = self.conduct().conduct_a;
        let level = self.over_pickup(&trace, at, conduct);
        let amps = edge(&trace, &trace.amps, level, true);
        let stated = self.measuring.conduct_a.is_some();
        let raised = kind == ArcKind::Dc && !stated && conduct > RAISED_A;
        if level <= conduct
            && !raised
            && !self.hums()
            && let Some(edge) = amps
        {
            return Ok(edge.at);
        }
        let volts = self.volts_edge(&trace, true);
        Ok(self.first_of(amps, volts, at))
    }

    /// Whether the noise of the resting current, by which the conduct level is set, is for the most part hum.
    fn hums(&self) -> bool {
        let survey = self.recording.survey();
        let white = survey.sight.map_or(0.0, |s| s.white_a);
        let noise = survey.noise_a.unwrap_or(0.0);
        noise > HUM_A && noise > HUM_TIMES * white
    }

    /// The conduct level, or what the trace before an edge stays within: a pick-up that is there while the circuit is open.
    fn over_pickup(&self, trace: &Trace, at: f64, level: f64) -> f64 {
        let block = block_frames(self.recording.rate_hz()) as f64;
        let before = Span {
            on: f64::NEG_INFINITY,
            off: at - block,
        };
        let mut seen: Vec<f64> = trace.amps_in(before).iter().map(|i| i.abs()).collect();
        let most = order::part_in_place(&mut seen, 0.95).unwrap_or(0.0);
        let behind = Span {
            on: at + block,
            off: f64::INFINITY,
        };
        // Half of an arc that stands there already is no pick-up, however much there is of it beside a small arc.
        let arc = order::median_of_magnitudes(trace.amps_in(behind)).unwrap_or(0.0);
        let most_level = self.levels.sure_a.max(0.5 * arc);
        level.max((OVER_PICKUP * most).min(most_level))
    }

    /// Where it ends: at the current's edge where that is clean.
    fn end(&self, at: f64, within: Span) -> Result<f64> {
        let trace = self.about(at, within)?;
        let level = self.conduct().release_a;
        let amps = edge(&trace, &trace.amps, level, false);
        let volts = self.volts_edge(&trace, false);
        Ok(amps.or(volts).map_or(at, |e| e.at))
    }

    /// Where the voltage leaves the open circuit, or comes back to it.
    fn volts_edge(&self, trace: &Trace, begins: bool) -> Option<Edge> {
        let level = self.levels.open_v;
        level
            .is_finite()
            .then(|| edge(trace, &trace.volts, level, !begins))
            .flatten()
    }

    fn first_of(&self, amps: Option<Edge>, volts: Option<Edge>, at: f64) -> f64 {
        let near = (AGREE_S * self.recording.rate_hz()).max(2.0);
        match (amps, volts) {
            (Some(a), Some(v)) if (a.at - v.at).abs() <= near => a.at,
            (Some(a), Some(v)) => a.at.min(v.at),
            (Some(e), None) | (None, Some(e)) => e.at,
            (None, None) => at,
        }
    }

    /// A touch begins and ends where the voltage passes the level, or with the current.
    fn touch(&self, low: Span, runs: &[ConductRun]) -> Result<Span> {
        let near = |a: f64, b: f64| (a - b).abs() <= self.recording.rate_hz() * 2e-3;
        let within = |on: f64, off: f64| Span { on, off };
        let middle = 0.5 * (low.on + low.off);
        let level = self.levels.touch_v;
        let mut sharp = low;
        let trace = self.about(low.on, within(f64::NEG_INFINITY, middle))?;
        if let Some(found) = edge(&trace, &trace.volts, level, false) {
            sharp.on = found.at;
        }
        if let Some(run) = runs.iter().find(|r| near(r.span.on, low.on)) {
            sharp.on = sharp.on.max(run.span.on);
        }
        let trace = self.about(low.off, within(middle, f64::INFINITY))?;
        if let Some(found) = edge(&trace, &trace.volts, level, true) {
            sharp.off = found.at;
        }
        if let Some(run) = runs.iter().find(|r| near(r.span.off, low.off)) {
            sharp.off = sharp.off.min(run.span.off);
        }
        Ok(sharp)
    }

    /// Parts what conducts up to an instant into half-waves.
    fn half_waves(&self, group: &mut EventGroup, period: f64, until: f64) -> Result<()> {
        let mut parts = Vec::new();
        for run in &group.runs {
            if run.span.on >= until {
                parts.push(*run);
                continue;
            }
            let inside = Span {
                on: run.span.on,
                off: run.span.off.min(until),
            };
            let waves = self.waves(inside, period)?;
            let rest = Span {
                on: inside.off,
                off: run.span.off,
            };
            match waves.is_empty() {
                true => parts.push(*run),
                false => parts.extend(waves),
            }
            if rest.len() > 0.0 {
                parts.push(ConductRun {
                    sign: run.sign,
                    span: rest,
                });
            }
        }
        group.runs = parts;
        let period = fitted_period(&group.runs, period);
        group.kind = Some(ArcKind::Ac { period });
        Ok(())
    }

    /// The half-waves of one stretch; its ends stay where they are.
    fn waves(&self, span: Span, period: f64) -> Result<Vec<ConductRun>> {
        let rate = self.recording.rate_hz();
        let trace = Trace::read(self.recording, self.segment, span, 0.0)?;
        let reach = ((SPIKE_S.min(0.05 * period / rate) * rate) as usize).min(8);
        let amps = match reach {
            0 => trace.amps.clone(),
            reach => order::running_median(&trace.amps, reach),
        };
        let conduct = self.conduct();
        let level = conduct.conduct_a.max(self.levels.flow_a);
        let guard = (0.02 * period) as u64;
        let mut tracker = Tracker::new(level, level * self.measuring.conduct_release, guard.max(1));
        let mut events: Vec<Event> = (trace.first..)
            .zip(&amps)
            .flat_map(|(n, x)| tracker.push(n, *x))
            .flatten()
            .collect();
        events.extend(tracker.end_at(span.off).map(Event::Off));
        let mut waves: Vec<ConductRun> = events
            .iter()
            .filter_map(|e| match e {
                Event::Off(run) => Some(*run),
                Event::On(_) => None,
            })
            .collect();
        if let Some(first) = waves.first_mut() {
            first.span.on = span.on;
        }
        if let Some(last) = waves.last_mut() {
            last.span.off = span.off;
        }
        Ok(waves)
    }
}

/// The mean period by like half-waves of the more frequent sign: each is numbered by the step from the one before,
/// and a straight line is fitted to all.
fn fitted_period(runs: &[ConductRun], period: f64) -> f64 {
    let of = |sign: i8| -> Vec<f64> {
        let own = runs
            .iter()
            .filter(|r| r.sign == sign && r.span.len() < period);
        own.map(|r| r.span.on).collect()
    };
    let (plus, minus) = (of(1), of(-1));
    let begins = if plus.len() >= minus.len() {
        plus
    } else {
        minus
    };
    let mut steps: Vec<f64> = begins.windows(2).map(|w| w[1] - w[0]).collect();
    steps.retain(|s| *s > 0.6 * period && *s < 1.4 * period);
    let typical = order::median_in_place(&mut steps).unwrap_or(period);
    period_of(&begins, typical).unwrap_or(period)
}

/// An edge, and how many samples about it lie on the wrong side.
#[derive(Debug, Clone, Copy)]
struct Edge {
    at: f64,
}

/// Where the magnitude of a trace passes a level for good: the place with the fewest samples on the wrong side, between two
/// samples on the straight line. `None` where it does not pass it, or too many are.
fn edge(trace: &Trace, values: &[f64], level: f64, up: bool) -> Option<Edge> {
    let high = |x: f64| (x.abs() >= level) == up;
    let n = values.len();
    // Wrong with the edge at `k`: high ones before it, low ones from it on.
    let mut wrong = values.iter().filter(|x| !high(**x)).count();
    let (mut best, mut at) = (usize::MAX, 0);
    for k in 0..=n {
        if wrong < best {
            (best, at) = (wrong, k);
        }
        if let Some(&x) = values.get(k) {
            match high(x) {
                true => wrong += 1,
                false => wrong -= 1,
            }
        }
    }
    if at == 0 || at == n || best as f64 > WRONG_PART * n as f64 {
        return None;
    }
    let (a, b) = (values[at - 1].abs(), values[at].abs());
    let part = match (b - a).abs() > f64::EPSILON {
        true => ((level - a) / (b - a)).clamp(0.0, 1.0),
        false => 1.0,
    };
    Some(Edge {
        at: trace.frame(at as f64 - 1.0 + part),
    })
}

#[cfg(test)]
mod tests;
