//! The lit part of a start, in memory: its traces without spikes, its half-cycles, its noise, and what repeats in it.

use crate::job::measuring::Measuring;
use crate::start::find::phases::{ArcKind, EventGroup, Phases};
use crate::start::find::tracker::{ConductRun, Span};
use crate::start::measure::ac::{
    Alternation, HalfCycle, alternation, half_cycles, half_waves_and_pauses, unbroken,
};
use crate::start::measure::evidence::BRIDGE_S;
use crate::start::measure::onset::{Onset, onset};
use crate::start::measure::pulse::Pulse;
use crate::start::measure::ripple::Ripple;
use crate::start::measure::{hum, pulse, ripple, spikes};
use crate::start::trace::Trace;
use crate::stats::order;

/// A spike is higher than this part of the current's level, and than these volts, on DC …
const SPIKE_DC: (f64, f64) = (0.05, 1.0);
/// … and on AC, whose crests may be as sharp as a spike.
const SPIKE_AC: (f64, f64) = (0.3, 3.0);

/// A pulse with a period of less than this many times what is looked at to either side of a spike: where it swings by half of its level and
/// its crests come to a point, they stand out by 5 % of it.
const CRESTS: f64 = 20.0;

/// Ripple from here on, percent peak to peak, is averaged over before settling is measured.
const AVERAGED_PCT: f64 = 10.0;

/// The lit part of a start.
pub(crate) struct Lit {
    /// Without spikes.
    pub trace: Trace,
    /// From lit on.
    pub window: Span,
    pub halves: Vec<HalfCycle>,
    /// The same with those in which no arc burned; empty where there are none.
    pub unbroken: Vec<HalfCycle>,
    /// Half-waves inside the window, those beside a missing one too.
    pub waves: Vec<ConductRun>,
    pub alternation: Option<Alternation>,
    pub pulse: Option<Pulse>,
    pub ripple: Option<Ripple>,
    /// The period of a ripple that is the logger's hum, frames.
    pub hum: Option<f64>,
    /// Crest of the hum at rest, A.
    pub hum_a: f64,
    pub onset: Onset,
    /// The middle of the current's magnitude in the window, A; `None` where it is empty.
    pub level: Option<f64>,
    /// White noise of current and voltage in the window, rms.
    pub noise_a: f64,
    pub noise_v: f64,
}

impl Lit {
    /// Of a trace that was read about the window; `sign` is the current's while the electrode is negative, `rest_a` its noise at rest,
    /// A rms.
    pub fn of(
        trace: Trace,
        window: Span,
        group: &EventGroup,
        phases: &Phases,
        (sign, rest_a): (i8, f64),
        measuring: &Measuring,
    ) -> Lit {
        let (noise_a, noise_v) = (
            order::noise(trace.amps_in(window)),
            order::noise(trace.volts_in(window)),
        );
        let (calm, mut level) = without_spikes(&trace, window, phases.process);
        let (mut calm, raw) = match calm {
            Some(calm) => (calm, Some(trace)),
            None => (trace, None),
        };
        let (mut pulse, mut ripple) = (None, None);
        if phases.process == ArcKind::Dc {
            let disturbed = disturbed(phases, calm.rate_hz);
            ripple = ripple::of_window(&calm, window, &disturbed);
            pulse = match ripple {
                Some(ripple) => pulse::behind_image(&calm, window, &disturbed, ripple.pct),
                None => pulse::of_window(&calm, window, &disturbed),
            };
            let shown = pulse.is_some_and(|pulse| !pulse.told);
            ripple = ripple.filter(|_| !shown);
            if !shown && pulse::untold(noise_a, calm.amps_in(window), rest_a, ripple.is_some()) {
                // What moves faster than the samples may show as a ripple or a pulse of any frequency.
                ripple = None;
                pulse = Some(Pulse::untold(calm.rate_hz));
            }
        }
        if let Some(raw) = &raw
            && pulse.is_some_and(|pulse| is_short(pulse, raw.rate_hz))
        {
            // Some of its crests were taken out for spikes.
            calm.amps.clone_from(&raw.amps);
            level = order::median_of_magnitudes(raw.amps_in(window));
        }
        let hum_a = hum::at_rest(rest_a, noise_a);
        let hum = ripple.filter(|ripple| hum::is_hum(*ripple, level.unwrap_or(0.0), hum_a));
        let hum = hum.map(|ripple| ripple.period);
        let mut lit = Lit {
            onset: onset(
                raw.as_ref().unwrap_or(&calm),
                &calm,
                window,
                noise_a,
                ripple.map(|r| r.period),
            ),
            trace: calm,
            window,
            halves: Vec::new(),
            unbroken: Vec::new(),
            waves: Vec::new(),
            alternation: None,
            pulse,
            ripple,
            level,
            hum,
            hum_a,
            noise_a,
            noise_v,
        };
        if let ArcKind::Ac { period } = phases.process {
            lit.half_waves(raw.as_ref(), group, period, sign, measuring);
        }
        lit
    }

    /// `raw`: the trace with its spikes, where it has any.
    fn half_waves(
        &mut self,
        raw: Option<&Trace>,
        group: &EventGroup,
        period: f64,
        sign: i8,
        measuring: &Measuring,
    ) {
        let (window, trace) = (self.window, raw.unwrap_or(&self.trace));
        self.halves = half_cycles(&group.runs, window, period, measuring.conduct_release);
        if self.halves.len() < 2 {
            self.halves = half_waves_and_pauses(&group.runs, window, period);
        } else {
            self.unbroken = unbroken(&group.runs, window, period, &self.halves, measuring);
        }
        self.waves = group.runs.clone();
        self.waves.retain(|r| {
            r.span.on >= window.on && r.span.off <= window.off && r.span.len() < period
        });
        self.alternation = alternation(&group.runs, window, period, sign, trace, measuring);
    }

    /// The period of what repeats on direct current, frames.
    pub fn period(&self) -> Option<f64> {
        let pulse = self.pulse.map(|pulse| pulse.period);
        pulse.or(self.ripple.map(|ripple| ripple.period))
    }

    /// The period to average over for settling: of a pulse, and of a ripple that would leave the band by itself. A smaller one would
    /// only smear the instant over its period, and so would hum, which is taken out instead.
    pub fn averaged(&self) -> Option<f64> {
        let small = self.ripple.is_some_and(|ripple| ripple.pct < AVERAGED_PCT);
        self.period().filter(|_| !small && self.hum.is_none())
    }
}

/// Whether the crests of a pulse may stand out as spikes do.
fn is_short(pulse: Pulse, rate_hz: f64) -> bool {
    !pulse.told || pulse.period < CRESTS * spikes::reach(rate_hz) as f64
}

/// Takes the ignition's spikes out of both traces, where there are any; gives the level of the current that is left.
fn without_spikes(trace: &Trace, window: Span, process: ArcKind) -> (Option<Trace>, Option<f64>) {
    let (part, volts) = match process {
        ArcKind::Dc => SPIKE_DC,
        ArcKind::Ac { .. } => SPIKE_AC,
    };
    let level = order::median_of_magnitudes(trace.amps_in(window));
    let least = part * level.unwrap_or(0.0);
    let in_amps = spikes::find(&trace.amps, trace.rate_hz, least);
    let in_volts = spikes::find(&trace.volts, trace.rate_hz, volts);
    if in_amps.is_none() && in_volts.is_none() {
        return (None, level);
    }
    let mut calm = trace.clone();
    if let Some(spikes) = in_volts {
        spikes::take_all_out(spikes, &mut calm.volts, trace.rate_hz, volts);
    }
    let Some(spikes) = in_amps else {
        return (Some(calm), level);
    };
    spikes::take_all_out(spikes, &mut calm.amps, trace.rate_hz, least);
    let level = order::median_of_magnitudes(calm.amps_in(window));
    (Some(calm), level)
}

/// Dropouts and touches with what they disturb about them.
fn disturbed(phases: &Phases, rate_hz: f64) -> Vec<Span> {
    let reach = BRIDGE_S * rate_hz;
    let wider = |s: &Span| Span {
        on: s.on - reach,
        off: s.off + reach,
    };
    phases
        .dropouts
        .iter()
        .chain(&phases.touches)
        .map(wider)
        .collect()
}
