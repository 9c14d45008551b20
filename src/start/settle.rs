//! The current's magnitude as one smooth series, its run level, and where it settles (docs/measures.md).

use super::ac::HalfCycle;
use super::anatomy::{Anatomy, Process};
use super::robust;
use super::settings::Measuring;
use super::trace::Trace;
use super::tracker::Span;
use super::transition::{moving_mean, rms, settled};

/// Noise is averaged down until the settle band is this many standard deviations wide to either side …
const BAND_SIGMAS: f64 = 30.0;
/// … but over no more than this, s.
const LONGEST_MEAN_S: f64 = 1e-3;

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
}

impl Magnitude {
    /// DC: |i|, averaged as far as noise asks, or over the pulse period that follows. AC: rms of each half-cycle over that of its polarity. `noise`: of the current, A rms.
    pub fn of(
        trace: &Trace,
        anatomy: &Anatomy,
        window: Span,
        pulse: Option<f64>,
        halves: &[HalfCycle],
        noise: f64,
    ) -> Option<Magnitude> {
        match anatomy.process {
            Process::Dc => Some(direct(trace, window, pulse, noise)?),
            Process::Ac { .. } => alternating(trace, window, halves),
        }
    }

    /// Replaces the level by a ramp from the first value after lit to the run level over the up-slope set.
    pub fn follow_upslope(&mut self, lit: f64, upslope: f64) {
        let Some(start) = self
            .at
            .iter()
            .position(|at| *at >= lit)
            .map(|k| self.ratio[k])
        else {
            return;
        };
        let count = self.ratio.len();
        let end =
            robust::median(&mut self.ratio[count - count.div_ceil(5)..].to_vec()).unwrap_or(1.0);
        for (at, ratio) in self.at.iter().zip(&mut self.ratio) {
            let part = ((at - lit) / upslope).clamp(0.0, 1.0);
            *ratio /= start + part * (end - start);
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

fn direct(trace: &Trace, window: Span, pulse: Option<f64>, noise: f64) -> Option<Magnitude> {
    let inside = trace.range(window);
    let median = robust::median_of_magnitudes(trace.amps_in(window))?;
    let width = pulse.unwrap_or_else(|| {
        (BAND_SIGMAS * noise / (0.1 * median))
            .powi(2)
            .min(LONGEST_MEAN_S * trace.rate_hz)
    });
    let mut mean = moving_mean(trace.amps.iter().map(|i| i.abs()).collect(), width);
    // The mean over a pulse period stands at the period's begin: what was before the arc has no part in it.
    let early = 0.5 * pulse.unwrap_or(0.0);
    let last = inside.end.saturating_sub(early.ceil() as usize);
    let whole = (inside.start + early.ceil() as usize).min(last)..last;
    let run_a = match pulse {
        Some(_) => robust::median(&mut mean[whole].to_vec())?,
        None => median,
    };
    mean.truncate(last);
    mean.iter_mut().for_each(|m| *m /= run_a);
    Some(Magnitude {
        at: (0..last).map(|k| trace.frame(k as f64 - early)).collect(),
        ratio: mean,
        run_a,
        stepped: false,
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
    let typical = robust::median(&mut halves.iter().map(|h| h.span.len()).collect::<Vec<_>>())?;
    let opening = (begin.span.len() > 0.25 * typical).then_some(begin);
    let values: Vec<(HalfCycle, f64)> = opening
        .into_iter()
        .chain(halves.iter().copied())
        .map(|h| (h, rms(trace.amps_in(h.span))))
        .collect();
    let level = |sign: i8| {
        robust::median(
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
    Some(Magnitude {
        at: values.iter().map(|v| v.0.span.on).collect(),
        ratio: values
            .iter()
            .map(|v| v.1 / if v.0.sign > 0 { positive } else { negative })
            .collect(),
        run_a: robust::median(&mut cycles)?,
        stepped: true,
    })
}
