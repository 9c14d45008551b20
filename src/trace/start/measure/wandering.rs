//! Wander of one start, and what its row says of it.

use crate::flag::Flag;
use crate::start::doubt::Doubt;
use crate::start::find::phases::{ArcKind, Phases};
use crate::start::find::tracker::Span;
use crate::start::measure::bench::Bench;
use crate::start::measure::evidence::{self, Residual};
use crate::start::measure::lit::Lit;
use crate::start::measure::preview::Preview;
use crate::start::measure::wander::{Even, Lines, Slope, Wander, band_rms, drift};
use crate::start::record::Start;

/// Voltage at the frequencies of the mains and of its rectifier's ripple from which on, if it exceeds the wander, `hum` is set, V rms.
const HUM_V: f64 = 0.1;
/// Two readings of one wander differ by no more than this part of the greater, and this, V rms.
const ALIKE: (f64, f64) = (0.1, 0.03);

/// Where and in which band the wander of a start is looked for.
struct Asked<'a> {
    phases: &'a Phases,
    lit: &'a Lit,
    /// From the settled instant on, frames.
    window: Span,
    band_hz: (f64, f64),
    lines: Lines,
}

impl Bench<'_> {
    pub(super) fn wander(&self, start: &mut Start, phases: &Phases, lit: &Lit, settled: f64) {
        let rate = lit.trace.rate_hz;
        let asked_hz = self.measuring.wander_to_hz;
        let carried = start.measures.ac_hz.map_or(0.25 * rate, |f| f / 3.0);
        if asked_hz > 0.25 * rate {
            start.flags.push(Flag::SlowRate);
        }
        let asked = Asked {
            phases,
            lit,
            window: Span {
                on: settled,
                off: lit.window.off,
            },
            band_hz: (self.measuring.wander_from_hz, asked_hz.min(carried)),
            lines: Lines {
                mains_hz: self.context.mains_hz,
                repeats_hz: lit.period().map(|p| rate / p),
            },
        };
        start.measures.wander_a = asked.of_current();
        if lit.trace.volts.is_empty() {
            return;
        }
        let ac_hz = start.measures.ac_hz;
        let Some(Residual { even, scatter }) = asked.residual(ac_hz, Slope::Whole) else {
            return;
        };
        let drift = drift(&even.values, even.rate_hz);
        let Some(found) = asked.in_band(even) else {
            // What moves faster than the samples has its flag.
            if !asked.images() {
                start.flags.push(Flag::ShortWindow);
            }
            return;
        };
        let m = &mut start.measures;
        m.wander_v = Some(found.rms);
        m.wander_hz = Some(found.strongest_hz);
        m.hum_v = Some(found.hum_rms);
        m.drift_v = drift;
        // What stands at the mains' frequencies, or repeats with a ripple that does not explain it, may be the arc's.
        let at_ripple = lit.ripple.map_or(0.0, |_| found.repeats_rms);
        if found.hum_rms.hypot(at_ripple) > HUM_V.max(found.rms) {
            start.flags.push(Flag::Hum);
        }
        if let Some(doubt) = asked.with_the_pulse(ac_hz, found.rms) {
            start.doubt(doubt);
        }
        if self.context.previews {
            let preview = Preview::of_residual(&found, &scatter, asked.band_hz);
            start.preview = Some(Box::new(preview));
        }
    }
}

impl Asked<'_> {
    /// Whether what moves faster than the samples shows in them as something slower.
    fn images(&self) -> bool {
        self.lit.pulse.is_some_and(|pulse| !pulse.told)
    }

    fn in_band(&self, even: Even) -> Option<Wander> {
        let (from_hz, to_hz) = self.band_hz;
        let found = band_rms(even, self.lines, from_hz, to_hz)?;
        match self.images() {
            true => found.in_images(),
            false => Some(found),
        }
    }

    fn of_current(&self) -> Option<f64> {
        let lit = self.lit;
        let to_hz = self.band_hz.1;
        let even = evidence::current(&lit.trace, lit.alternation, self.window, to_hz, lit.noise_a);
        Some(self.in_band(even?)?.rms)
    }

    fn residual(&self, ac_hz: Option<f64>, by: Slope) -> Option<Residual> {
        let Asked {
            phases,
            lit,
            window,
            ..
        } = *self;
        match (phases.process, ac_hz) {
            (ArcKind::Dc, _) => {
                evidence::direct(&lit.trace, phases, window, self.band_hz.1, lit.noise_v)
            }
            (_, Some(ac_hz)) => {
                let from = (window.on, by);
                evidence::alternating(&lit.trace, phases, &lit.waves, from, ac_hz, lit.noise_v)
            }
            _ => None,
        }
    }

    /// Where what goes with the pulses of an alternating current is not just the arc's answer to their steps, an arc may wander at their
    /// frequency.
    fn with_the_pulse(&self, ac_hz: Option<f64>, volts: f64) -> Option<Doubt> {
        let even = self.residual(Some(ac_hz?), Slope::Steps)?.even;
        let steps_v = self.in_band(even)?.rms;
        let (part, least) = ALIKE;
        let apart = (steps_v - volts).abs() > part * steps_v.max(volts) + least;
        apart.then_some(Doubt::PulsedWander { volts, steps_v })
    }
}
