//! The current's magnitude as one smooth series, its run level, and where it settles (docs/measures.md).

use crate::job::measuring::Measuring;
use crate::start::find::phases::{ArcKind, Phases};
use crate::start::find::tracker::Span;
use crate::start::measure::ac::HalfCycle;
use crate::start::measure::lit::Lit;
use crate::start::measure::transition::{moving_mean, rms, settled};
use crate::start::measure::{hum, pulse};
use crate::start::trace::Trace;
use crate::stats::order;

/// Noise is averaged down until the settle band is this many standard deviations wide to either side …
const BAND_SIGMAS: f64 = 30.0;
/// … but over no more than this, s.
const LONGEST_MEAN_S: f64 = 1e-3;
/// A value may be off by this many standard deviations of its noise.
const SIGMAS: f64 = 1.5;
/// The settling instant may be off by this much, s.
const TOLD_S: f64 = 5e-3;
/// Periods are averaged over in whole numbers, for at least this long, s.
const SHORTEST_PERIODS_S: f64 = 2e-3;
/// The level at which an up-slope began is read from this part of it: earlier the machine's own rise is still under way.
const BEGAN: std::ops::Range<f64> = 0.1..0.7;
/// The band about it is that of this part of its level at the least, wider than noise.
const LEAST_RAMP: f64 = 0.05;

/// The current's magnitude over the window.
pub(crate) struct Magnitude {
    /// Instant of each value, frames.
    at: Vec<f64>,
    values: Vec<f64>,
    /// What the values are held against: their ratio to it is 1 at the run level.
    level: f64,
    /// Run level, A (AC: rms over whole cycles).
    pub run_a: f64,
    /// Whether values are of whole half-cycles, which have no in-between.
    stepped: bool,
    /// Values that each lasts for itself: a half-cycle does until the next, a mean stands at an instant.
    lasts: usize,
    /// How far noise, or a half-cycle of few samples, may have moved a value; the last one is that of all behind it.
    spread: Vec<f64>,
    /// Two levels, A, of which the run level is the one or the other by where the window ends.
    pub either: Option<[f64; 2]>,
    /// The period of the pulses that an alternating current was averaged over, frames.
    pub pulse: Option<f64>,
}

impl Magnitude {
    /// DC: |i|, averaged as far as noise asks, or over the period that follows where it pulses or ripples. AC: rms of each
    /// half-cycle over that of its polarity, averaged over the period that follows where it pulses. `least`: the lowest level that a band
    /// lies about, A, infinite where it is the run level itself.
    pub fn of(lit: &Lit, phases: &Phases, least: f64) -> Option<Magnitude> {
        match phases.process {
            ArcKind::Dc => {
                let repeats = [lit.averaged(), lit.hum];
                let noise = (lit.noise_a, least);
                let mut seen = direct(&lit.trace, lit.window, repeats, lit.level?, noise)?;
                if repeats == [None; 2] {
                    seen.spread[0] += lit.hum_a / seen.run_a;
                }
                Some(seen)
            }
            ArcKind::Ac { .. } => {
                let halves = [&lit.halves[..], &lit.unbroken];
                alternating(&lit.trace, lit.window, halves, lit.noise_a)
            }
        }
    }

    /// Replaces the level by a ramp over the up-slope set: from the current that it really began with, which the machine's own
    /// rise hides, to the level behind it (of an arc that ends in the ramp, to that of its last fifth).
    pub fn follow_upslope(&mut self, lit: f64, upslope: f64) {
        let part = |at: f64| ((at - lit) / upslope).clamp(0.0, 1.0);
        self.values.iter_mut().for_each(|x| *x /= self.level);
        self.level = 1.0;
        let count = self.values.len();
        let behind = self.at.partition_point(|at| part(*at) < 1.0);
        let last = behind.min(count - count.div_ceil(5));
        let end = order::median_in_place(&mut self.values[last..].to_vec()).unwrap_or(1.0);
        let values = self.at.iter().zip(&self.values);
        let mut began: Vec<f64> = values
            .map(|(at, ratio)| (part(*at), ratio))
            .filter(|(part, _)| BEGAN.contains(part))
            .map(|(part, ratio)| (ratio - part * end) / (1.0 - part))
            .collect();
        let Some(began) = order::median_in_place(&mut began) else {
            return;
        };
        let began = began.clamp(0.0, end);
        let spread = self.spread.last().copied().unwrap_or(0.0);
        self.spread.clear();
        for (at, ratio) in self.at.iter().zip(&mut self.values) {
            let ramp = began + part(*at) * (end - began);
            let level = ramp.max(LEAST_RAMP * end);
            *ratio = 1.0 + (*ratio - ramp) / level;
            self.spread.push(spread / level);
        }
        self.run_a *= end;
    }

    /// The first instant from `lit` on, frames, from which the magnitude stays in the band for the hold.
    pub fn settled(&self, lit: f64, measuring: &Measuring, rate_hz: f64) -> Option<f64> {
        self.settled_within(0.0, lit, measuring, rate_hz)
    }

    /// Where it may have settled more than is allowed before or after the instant told, because the values may be off by their spread: from
    /// when to when, frames, without an end where it may not have settled at all.
    pub fn hangs(
        &self,
        told: Option<f64>,
        lit: f64,
        measuring: &Measuring,
        rate_hz: f64,
    ) -> Option<(f64, Option<f64>)> {
        let from = self.settled_within(1.0, lit, measuring, rate_hz)?;
        let band = measuring.settle_band_pct / 100.0;
        // What is surely inside a while later was so for good: what comes after that is the spread itself.
        let to = told.and_then(|told| {
            let behind = self.at.partition_point(|at| *at < told);
            let sure = |k: &usize| self.off(*k, -1.0).abs() <= band;
            (behind..self.at.len())
                .find(sure)
                .map(|k| self.at[k].max(told))
        });
        let near = |a: f64, b: f64| b - a <= TOLD_S * rate_hz;
        let both = told.zip(to);
        let sure = both.is_some_and(|(told, to)| near(from, told) && near(told, to));
        (!sure).then_some((from, to))
    }

    /// How far a value is off its level, less this part of its spread.
    fn off(&self, k: usize, part: f64) -> f64 {
        let spread = self.spread.get(k).or(self.spread.last());
        let off = self.values[k] / self.level - 1.0;
        (off.abs() - part * spread.unwrap_or(&0.0))
            .max(0.0)
            .copysign(off)
    }

    /// As [`Magnitude::settled`], in a band that is wider to either side by this part of the spread.
    fn settled_within(
        &self,
        wider: f64,
        lit: f64,
        measuring: &Measuring,
        rate_hz: f64,
    ) -> Option<f64> {
        let from = self.at.iter().position(|at| *at >= lit.floor())?;
        let at = &self.at[from..];
        let step = (at.last()? - at.first()?) / (at.len() - 1).max(1) as f64;
        let hold = (measuring.settle_hold_ms * 1e-3 * rate_hz / step).ceil() as usize;
        let hold = hold.saturating_sub(self.lasts);
        let band = measuring.settle_band_pct / 100.0;
        let k = settled(at.len(), |k| self.off(from + k, wider), band, hold)?;
        let instant = if self.stepped {
            at[k.ceil() as usize]
        } else {
            at[k as usize] + k.fract() * step
        };
        Some(instant.max(lit))
    }
}

fn direct(
    trace: &Trace,
    window: Span,
    [period, hum]: [Option<f64>; 2],
    level: f64,
    (noise, least): (f64, f64),
) -> Option<Magnitude> {
    let inside = trace.range(window);
    // Whole periods, as many as noise and a shape between the samples ask for.
    let whole = |period: f64| period * (SHORTEST_PERIODS_S * trace.rate_hz / period).ceil();
    let period = period.map(whole);
    let width = period.unwrap_or_else(|| {
        (BAND_SIGMAS * noise / (0.1 * level.min(least)))
            .powi(2)
            .min(LONGEST_MEAN_S * trace.rate_hz)
    });
    let mut magnitude: Vec<f64> = trace.amps.iter().map(|i| i.abs()).collect();
    if let Some(hum) = hum {
        hum::take_out(&mut magnitude, inside.clone(), hum);
    }
    let mut mean = moving_mean(magnitude, width);
    // The mean over a period stands at the period's begin: what was before the arc has no part in it.
    let early = 0.5 * period.unwrap_or(0.0);
    let last = inside.end.saturating_sub(early.ceil() as usize);
    let whole = (inside.start + early.ceil() as usize).min(last)..last;
    let run_a = match period {
        Some(_) => order::median_in_place(&mut mean[whole].to_vec())?,
        None => level,
    };
    let either = match period {
        Some(_) => None,
        None => pulse::either(&mean[inside]),
    };
    mean.truncate(last);
    // Fewer than 2³¹ samples: 32 bits become a float in lanes.
    let at = (0..last as i32).map(|k| trace.frame(f64::from(k) - early));
    Some(Magnitude {
        at: at.collect(),
        values: mean,
        level: run_a,
        run_a,
        stepped: false,
        lasts: 0,
        spread: vec![SIGMAS * noise / width.max(1.0).sqrt() / run_a],
        either,
        pulse: None,
    })
}

/// Half-cycles from the window's begin on, with the rms of each.
fn opened(trace: &Trace, window: Span, halves: &[HalfCycle]) -> Option<Vec<(HalfCycle, f64)>> {
    let first = halves.first()?;
    let begin = HalfCycle {
        sign: -first.sign,
        span: Span {
            on: window.on,
            off: first.span.on,
        },
    };
    let typical =
        order::median_in_place(&mut halves.iter().map(|h| h.span.len()).collect::<Vec<_>>())?;
    let opening = (begin.span.len() > 0.25 * typical).then_some(begin);
    let all = opening.into_iter().chain(halves.iter().copied());
    let values = all.map(|h| (h, rms(trace.amps_in(h.span))));
    Some(values.collect())
}

/// Levels of the positive and of the negative half-cycles: the median of all, parted by how much the one is over the other beside it. By
/// medians of their own, a current that is at two levels for half of the time each could have the one level in one polarity, and the other in
/// the other.
fn levels(values: &[(HalfCycle, f64)]) -> Option<[f64; 2]> {
    let beside = values.windows(2).filter(|w| w[0].0.sign != w[1].0.sign);
    let times = beside.map(|w| match w[0].0.sign > 0 {
        true => w[0].1 / w[1].1,
        false => w[1].1 / w[0].1,
    });
    let times = times.filter(|times| times.is_finite() && *times > 0.0);
    let times = order::median_in_place(&mut times.collect::<Vec<f64>>()).unwrap_or(1.0);
    let [up, down] = [times.sqrt(), times.sqrt().recip()];
    let upright = values.iter().map(|(half, rms)| match half.sign > 0 {
        true => rms / up,
        false => rms / down,
    });
    let level = order::median_in_place(&mut upright.collect::<Vec<f64>>())?;
    Some([up * level, down * level])
}

/// Of half-cycles, and of the same with those in which no arc burned.
fn alternating(
    trace: &Trace,
    window: Span,
    [halves, unbroken]: [&[HalfCycle]; 2],
    noise: f64,
) -> Option<Magnitude> {
    let values = opened(trace, window, halves)?;
    let [positive, negative] = levels(&values)?;
    let mut cycles: Vec<f64> = values
        .windows(2)
        .map(|w| {
            let (a, b) = (w[0].0.span.len(), w[1].0.span.len());
            ((w[0].1.powi(2) * a + w[1].1.powi(2) * b) / (a + b)).sqrt()
        })
        .collect();
    let own = |h: &HalfCycle| if h.sign > 0 { positive } else { negative };
    let seen = |values: &[(HalfCycle, f64)]| Magnitude {
        at: values.iter().map(|v| v.0.span.on).collect(),
        values: values.iter().map(|v| v.1 / own(&v.0)).collect(),
        level: 1.0,
        run_a: 0.0,
        stepped: true,
        lasts: 1,
        spread: values
            .iter()
            .map(|(half, _)| {
                let count = trace.range(half.span).len().max(1) as f64;
                // A sample more or less at its edges, and noise.
                (0.5 / count).hypot(SIGMAS * noise / count.sqrt() / own(half))
            })
            .collect(),
        either: None,
        pulse: None,
    };
    let burning = Magnitude {
        run_a: order::median_in_place(&mut cycles.clone())?,
        either: pulse::either(&cycles),
        ..seen(&values)
    };
    // The first tenth belongs to the rise.
    let pulse = pulse::period(&burning.values[burning.values.len() / 10..]);
    if let Some(pulsed) = pulse.and_then(|pulse| over_pulses(&burning, &mut cycles, pulse)) {
        return Some(pulsed);
    }
    Some(match opened(trace, window, unbroken) {
        Some(all) => Magnitude {
            run_a: burning.run_a,
            either: burning.either,
            ..seen(&all)
        },
        None => burning,
    })
}

/// A pulsed alternating current: means over one pulse of this many half-cycles, which stand at its beginning.
fn over_pulses(seen: &Magnitude, cycles: &mut [f64], pulse: f64) -> Option<Magnitude> {
    // As many half-cycles of one sign as of the other.
    let count = 2 * (0.5 * pulse).round() as usize;
    if count < 4 || seen.values.len() <= 2 * count {
        return None;
    }
    let mean = |w: &[f64]| w.iter().sum::<f64>() / count as f64;
    let mut ratio: Vec<f64> = seen.values.windows(count).map(mean).collect();
    // The rms of the whole pulse.
    let rms = |w: &[f64]| (w.iter().map(|x| x * x).sum::<f64>() / count as f64).sqrt();
    let run_a = order::median_in_place(&mut cycles.windows(count).map(rms).collect::<Vec<_>>())?;
    let level = order::median_in_place(&mut ratio.clone())?;
    ratio.iter_mut().for_each(|r| *r /= level);
    let mut lengths: Vec<f64> = seen.at.windows(3).map(|w| w[2] - w[0]).collect();
    let cycle = order::median_in_place(&mut lengths)?;
    Some(Magnitude {
        at: seen.at[..ratio.len()].to_vec(),
        values: ratio,
        level: 1.0,
        run_a,
        stepped: true,
        lasts: 0,
        spread: Vec::new(),
        either: None,
        pulse: Some(0.5 * pulse * cycle),
    })
}

#[cfg(test)]
mod tests;
