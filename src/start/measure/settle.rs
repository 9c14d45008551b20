//! The current's magnitude as one smooth series, its run level, and where it settles (docs/measures.md).

use crate::job::measuring::Measuring;
use crate::start::find::phases::{ArcKind, Phases};
use crate::start::find::tracker::Span;
use crate::start::measure::ac::HalfCycle;
use crate::start::measure::pulse;
use crate::start::measure::transition::{moving_mean, rms, settled};
use crate::start::trace::Trace;
use crate::stats::order;

/// Noise is averaged down until the settle band is this many standard deviations wide to either side …
const BAND_SIGMAS: f64 = 30.0;
/// … but over no more than this, s.
const LONGEST_MEAN_S: f64 = 1e-3;
/// Periods are averaged over in whole numbers, for at least this long, s.
const SHORTEST_PERIODS_S: f64 = 2e-3;
/// What an up-slope began with is read off this part of it: before it the machine's own rise is under way.
const BEGAN: std::ops::Range<f64> = 0.1..0.7;
/// The band about it is that of this part of its level at the least, wider than noise.
const LEAST_RAMP: f64 = 0.05;

/// The current's magnitude over the window.
pub(crate) struct Magnitude {
    /// Instant of each value, frames.
    at: Vec<f64>,
    /// Value over its level: 1 at the run level.
    ratio: Vec<f64>,
    /// Run level, A (AC: rms over whole cycles).
    pub run_a: f64,
    /// Whether values are whole half-cycles, which have no in-between.
    stepped: bool,
    /// Two levels, A, of which the run level is the one or the other by where the window ends.
    pub either: Option<[f64; 2]>,
}

impl Magnitude {
    /// DC: |i|, averaged as far as noise asks, or over the period that follows where it pulses or ripples. AC: rms of each
    /// half-cycle over that of its polarity, averaged over the period that follows where it pulses. `level`: the middle of |i| in the
    /// window, A; `noise`: of the current, A rms; `least`: the lowest level that a band lies about, A, infinite where it is the run
    /// level itself.
    pub fn of(
        trace: &Trace,
        phases: &Phases,
        window: Span,
        period: Option<f64>,
        halves: &[HalfCycle],
        level: Option<f64>,
        (noise, least): (f64, f64),
    ) -> Option<Magnitude> {
        match phases.process {
            ArcKind::Dc => direct(trace, window, period, level?, (noise, least)),
            ArcKind::Ac { .. } => alternating(trace, window, halves),
        }
    }

    /// Replaces the level by a ramp over the up-slope set: from the current that it really began with, which the machine's own
    /// rise hides, to the level behind it (of an arc that ends in the ramp, to that of its last fifth).
    pub fn follow_upslope(&mut self, lit: f64, upslope: f64) {
        let part = |at: f64| ((at - lit) / upslope).clamp(0.0, 1.0);
        let count = self.ratio.len();
        let behind = self.at.partition_point(|at| part(*at) < 1.0);
        let last = behind.min(count - count.div_ceil(5));
        let end = order::median_in_place(&mut self.ratio[last..].to_vec()).unwrap_or(1.0);
        let values = self.at.iter().zip(&self.ratio);
        let mut began: Vec<f64> = values
            .map(|(at, ratio)| (part(*at), ratio))
            .filter(|(part, _)| BEGAN.contains(part))
            .map(|(part, ratio)| (ratio - part * end) / (1.0 - part))
            .collect();
        let Some(began) = order::median_in_place(&mut began) else {
            return;
        };
        let began = began.clamp(0.0, end);
        for (at, ratio) in self.at.iter().zip(&mut self.ratio) {
            let ramp = began + part(*at) * (end - began);
            *ratio = 1.0 + (*ratio - ramp) / ramp.max(LEAST_RAMP * end);
        }
        self.run_a *= end;
    }

    /// The first instant from `lit` on, frames, from which the magnitude stays in the band for the hold.
    pub fn settled(&self, lit: f64, measuring: &Measuring, rate_hz: f64) -> Option<f64> {
        let from = self.at.iter().position(|at| *at >= lit.floor())?;
        let (at, ratio) = (&self.at[from..], &self.ratio[from..]);
        let step = (at.last()? - at.first()?) / (at.len() - 1).max(1) as f64;
        let hold = (measuring.settle_hold_ms * 1e-3 * rate_hz / step).ceil() as usize;
        let k = settled(ratio, 1.0, measuring.settle_band_pct / 100.0, hold)?;
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
    period: Option<f64>,
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
    let mut mean = moving_mean(trace.amps.iter().map(|i| i.abs()).collect(), width);
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
    mean.iter_mut().for_each(|m| *m /= run_a);
    Some(Magnitude {
        at: (0..last).map(|k| trace.frame(k as f64 - early)).collect(),
        ratio: mean,
        run_a,
        stepped: false,
        either,
    })
}

fn alternating(trace: &Trace, window: Span, halves: &[HalfCycle]) -> Option<Magnitude> {
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
    let values: Vec<(HalfCycle, f64)> = opening
        .into_iter()
        .chain(halves.iter().copied())
        .map(|h| (h, rms(trace.amps_in(h.span))))
        .collect();
    let level = |sign: i8| {
        order::median_in_place(
            &mut values
                .iter()
                .filter(|v| v.0.sign == sign)
                .map(|v| v.1)
                .collect::<Vec<_>>(),
        )
    };
    let (positive, negative) = (level(1)?, level(-1)?);
    let mut cycles: Vec<f64> = values
        .windows(2)
        .map(|w| {
            let (a, b) = (w[0].0.span.len(), w[1].0.span.len());
            ((w[0].1.powi(2) * a + w[1].1.powi(2) * b) / (a + b)).sqrt()
        })
        .collect();
    let part = |v: &(HalfCycle, f64)| v.1 / if v.0.sign > 0 { positive } else { negative };
    let seen = Magnitude {
        at: values.iter().map(|v| v.0.span.on).collect(),
        ratio: values.iter().map(part).collect(),
        run_a: order::median_in_place(&mut cycles.clone())?,
        stepped: true,
        either: pulse::either(&cycles),
    };
    // The first tenth belongs to the rise.
    let pulse = pulse::period(&seen.ratio[seen.ratio.len() / 10..]);
    Some(
        pulse
            .and_then(|pulse| over_pulses(&seen, &mut cycles, pulse))
            .unwrap_or(seen),
    )
}

/// A pulsed alternating current: means over one pulse, which stand at its begin.
fn over_pulses(seen: &Magnitude, cycles: &mut [f64], pulse: f64) -> Option<Magnitude> {
    // As many half-cycles of one sign as of the other.
    let count = 2 * (0.5 * pulse).round() as usize;
    if count < 4 || seen.ratio.len() <= 2 * count {
        return None;
    }
    let mean = |w: &[f64]| w.iter().sum::<f64>() / count as f64;
    let mut ratio: Vec<f64> = seen.ratio.windows(count).map(mean).collect();
    // The rms of the whole pulse.
    let rms = |w: &[f64]| (w.iter().map(|x| x * x).sum::<f64>() / count as f64).sqrt();
    let run_a = order::median_in_place(&mut cycles.windows(count).map(rms).collect::<Vec<_>>())?;
    let level = order::median_in_place(&mut ratio.clone())?;
    ratio.iter_mut().for_each(|r| *r /= level);
    Some(Magnitude {
        at: seen.at[..ratio.len()].to_vec(),
        ratio,
        run_a,
        stepped: true,
        either: None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn magnitude(at: impl Iterator<Item = f64>, ratio: impl Fn(f64) -> f64) -> Magnitude {
        let at: Vec<f64> = at.collect();
        Magnitude {
            ratio: at.iter().map(|at| ratio(*at)).collect(),
            at,
            run_a: 80.0,
            stepped: false,
            either: None,
        }
    }

    /// From half the run level at frame 100 to one and a quarter of it 50 frames later, risen to within 3 frames: along that ramp
    /// everything behind the rise is 1.
    #[test]
    fn an_up_slope_begins_where_the_rise_hides_it_and_ends_at_its_level() {
        let ramp = |at: f64| 0.5 + 0.75 * ((at - 100.0) / 50.0).clamp(0.0, 1.0);
        let mut sloped = magnitude((90..200).map(f64::from), |at| match at {
            ..100.0 => 0.1,
            100.0..103.0 => 0.1 + 0.1 * (at - 100.0),
            _ => ramp(at),
        });
        sloped.follow_upslope(100.0, 50.0);
        assert_eq!(sloped.run_a, 100.0);
        assert!(sloped.ratio[..10].iter().all(|r| (r - 0.2).abs() < 1e-12));
        assert!(sloped.ratio[10..13].iter().all(|r| *r < 0.6));
        assert!(sloped.ratio[13..].iter().all(|r| (r - 1.0).abs() < 1e-12));
    }

    /// Values every 2 frames of 1 ms: held for 20 ms are ten of them. Out of the band until frame 110, and once more at 130;
    /// from 1.2 into the band of 1.1 half the way to 1 is gone.
    #[test]
    fn settling_is_told_in_frames_whatever_the_step() {
        let mut wave = magnitude(
            (0..100).map(|k| 100.0 + 2.0 * f64::from(k)),
            |at| match at {
                ..=110.0 | 130.0 => 1.2,
                _ => 1.0,
            },
        );
        let settled = |wave: &Magnitude, lit: f64| wave.settled(lit, &Measuring::default(), 1000.0);
        // From 112 to 128 it held 16 ms.
        assert!((settled(&wave, 100.5).unwrap() - 131.0).abs() < 1e-9);
        assert_eq!(settled(&wave, 150.7), Some(150.7));
        assert_eq!(settled(&wave, 280.0), None, "18 ms are left");
        assert_eq!(settled(&wave, 300.0), None);
        wave.stepped = true;
        assert_eq!(settled(&wave, 100.5), Some(132.0));
    }

    fn trace(amps: impl Fn(usize) -> f64) -> Trace {
        Trace {
            rate_hz: 100_000.0,
            first: 40,
            amps: (40..2040).map(amps).collect(),
            volts: Vec::new(),
        }
    }

    const WINDOW: Span = Span {
        on: 40.0,
        off: 2040.0,
    };

    /// The band of ±10 A is 30 standard deviations of noise wide after a mean over (30·1/10)² = 9 samples: one of 190 A among
    /// 100 A is 110 A there. Never more than 1 ms, 100 samples, and without noise every sample stands for itself.
    #[test]
    fn noise_asks_for_just_so_long_a_mean() {
        let wave = trace(|n| if n == 1000 { -190.0 } else { -100.0 });
        for (noise, width) in [(0.0, 1.0), (1.0, 9.0), (2.0, 36.0), (10.0, 100.0)] {
            let seen = direct(&wave, WINDOW, None, 100.0, (noise, f64::INFINITY)).unwrap();
            let top = seen.ratio.iter().fold(0.0, |a, b| f64::max(a, *b));
            assert_eq!(seen.run_a, 100.0);
            assert!((top - 1.0 - 0.9 / width).abs() < 1e-9, "{noise} A: {top}");
            assert_eq!((seen.at[0], seen.at.len()), (40.0, 2000));
        }
    }

    /// A ramp that begins at 20 A has a band of ±2 A there: 30 standard deviations wide after a mean over (30·0.2/2)² = 9 samples, where that
    /// of the run level would ask for none.
    #[test]
    fn the_narrowest_band_asks_for_the_mean() {
        let wave = trace(|n| if n == 1000 { 190.0 } else { 100.0 });
        for (least, width) in [(20.0, 9.0), (f64::INFINITY, 1.0)] {
            let seen = direct(&wave, WINDOW, None, 100.0, (0.2, least)).unwrap();
            let top = seen.ratio.iter().fold(0.0, |a, b| f64::max(a, *b));
            assert!((top - 1.0 - 0.9 / width).abs() < 1e-9, "{least} A: {top}");
        }
    }

    /// 100 A and 60 A in turn, 4 and 6 samples of 10: 76 A. Of ten samples at 100 kHz twenty periods are averaged over, 2 ms, so
    /// that the mean stands 100 samples early.
    #[test]
    fn a_pulse_is_told_by_its_period_from_the_periods_begin_on() {
        let wave = trace(|n| if n % 10 < 4 { 100.0 } else { 60.0 });
        let seen = direct(&wave, WINDOW, Some(10.0), 60.0, (1.0, f64::INFINITY)).unwrap();
        assert!((seen.run_a - 76.0).abs() < 1e-9);
        assert_eq!((seen.at[0], seen.at.len()), (-60.0, 1900));
        assert!(seen.ratio[100..].iter().all(|r| (r - 1.0).abs() < 1e-9));
    }

    /// 13 samples at 150 A and 7 at −100 A in turn: √((13·150² + 7·100²)/20) = 134.63 A over a cycle.
    #[test]
    fn alternating_current_is_told_by_the_half_cycle() {
        let wave = trace(|n| if n % 20 < 13 { 150.0 } else { -100.0 });
        let changes: Vec<f64> = (3..100)
            .map(|k| 20.0 * f64::from(k))
            .flat_map(|on| [on, on + 13.0])
            .collect();
        let signs = [1, -1].into_iter().cycle();
        let halves: Vec<HalfCycle> = changes
            .windows(2)
            .zip(signs)
            .map(|(w, sign)| HalfCycle {
                sign,
                span: Span {
                    on: w[0],
                    off: w[1],
                },
            })
            .collect();
        let from = |on: f64| {
            let window = Span {
                on,
                off: WINDOW.off,
            };
            alternating(&wave, window, &halves).unwrap()
        };
        // A quarter of a typical half-cycle of 13 samples is 3.25: only what is longer opens the window.
        assert_eq!((from(57.0).at[0], from(56.5).at[0]), (60.0, 56.5));
        for seen in [from(57.0), from(53.0)] {
            assert!((seen.run_a - 18_125.0_f64.sqrt()).abs() < 1e-9);
            assert!(seen.ratio.iter().all(|r| (r - 1.0).abs() < 1e-9));
            assert!(seen.stepped);
        }
    }
}
