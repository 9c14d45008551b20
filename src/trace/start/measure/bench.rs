//! One start, cut into its instants, becomes its measures. Each measure's definition: docs/measures.md.

use crate::error::Result;
use crate::flag::Flag;
use crate::job::Context;
use crate::job::measuring::Measuring;
use crate::measure::Measures;
use crate::recording::{Finding, Recording, Segment};
use crate::start::doubt::Doubt;
use crate::start::find::phases::{ArcKind, EventGroup, Phases};
use crate::start::find::tracker::Span;
use crate::start::measure::empty;
use crate::start::measure::energy::heat;
use crate::start::measure::lit::Lit;
use crate::start::measure::onset::Onset;
use crate::start::measure::preview::Preview;
use crate::start::measure::settle::Magnitude;
use crate::start::record::{Instants, Start};
use crate::start::trace::Trace;
use crate::stats::order;

/// Read before the strike and after the window, s: idle level before, the last half-cycle after.
const MARGIN_S: f64 = 0.03;
/// Mean of the current over this long from lit is what it lit at, s.
const LIT_S: f64 = 0.02;
/// An AC cycle of fewer samples is not measured.
const MIN_CYCLE_SAMPLES: f64 = 16.0;
/// A picture begins at most this long before lit (of a start that did not light, lasts at most this long), s.
const PICTURE_BEFORE_S: f64 = 2.0;
/// Share of the half-cycles of one polarity that may be missed before the arc is said to rectify.
const RECTIFYING_SHARE: f64 = 0.05;

/// The recording, the place in it, and the rules.
pub(crate) struct Bench<'a> {
    pub recording: &'a Recording,
    pub segment: Segment,
    pub measuring: &'a Measuring,
    pub context: &'a Context,
}

impl Bench<'_> {
    pub fn seconds(&self, frame: f64) -> f64 {
        self.segment.from_s + (frame - self.segment.first as f64) / self.recording.rate_hz()
    }

    /// Whether a group is a start of the span asked for. An arc that burns when the recording begins is none; but behind a high-pass
    /// no level tells whether one burns, and a start that was taken for it would be missing without a word.
    pub fn takes(&self, group: &EventGroup) -> bool {
        let (from, to) = self.context.span_s;
        let began = self.seconds(group.began());
        let findings = &self.recording.survey().findings;
        let coupled = |f: &Finding| f.flag == Flag::AcCoupled && f.spoils_starts();
        let whole = !group.mid_arc || findings.iter().any(coupled);
        whole && began >= from && began < to
    }

    /// Measures one start.
    pub fn start(&self, group: &EventGroup) -> Result<Start> {
        let rate = self.recording.rate_hz();
        let phases = group.phases(self.measuring, rate);
        let mut start = Start {
            instants: self.instants(group, &phases),
            measures: Measures::default(),
            flags: flags(group, &phases, self.recording),
            doubts: Vec::new(),
            preview: None,
        };
        let m = &mut start.measures;
        m.attempts = Some(phases.attempts as f64);
        let since = |a: Option<f64>, b: Option<f64>| Some((b? - a?) * 1e3);
        m.delay_ms = since(start.instants.t_open_s, start.instants.t_first_s);
        m.stutter_ms = since(start.instants.t_first_s, start.instants.t_lit_s);
        let lit = self.lit(group, &phases)?;
        if let Some(lit) = &lit {
            self.measure(&mut start, group, &phases, lit)?;
        } else if self.context.previews {
            let on = group.began();
            let off = group.last_off.clamp(on, on + PICTURE_BEFORE_S * rate);
            start.preview = Some(Box::new(self.preview(on, off)?));
        }
        start.flags.sort_unstable();
        start.flags.dedup();
        // The last sample before a gap belongs to what the gap cuts off.
        let to = group.last_off.max(group.began()) + 2.0;
        let time_s = (self.seconds(group.began()), self.seconds(to));
        let findings = &self.recording.survey().findings;
        start.carry(findings, time_s, self.context);
        let alternates = phases.process != ArcKind::Dc;
        let unsaid =
            lit.and_then(|lit| empty::doubt(&start, alternates, lit.onset == Onset::Unread));
        unsaid.into_iter().for_each(|doubt| start.doubt(doubt));
        start.measures.round();
        Ok(start)
    }

    fn instants(&self, group: &EventGroup, phases: &Phases) -> Instants {
        let open = group.open.filter(|_| !group.after_arc);
        Instants {
            t_open_s: open
                .filter(|o| phases.first.is_none_or(|f| *o <= f))
                .map(|f| self.seconds(f)),
            t_first_s: phases.first.map(|f| self.seconds(f)),
            t_lit_s: phases.lit.map(|f| self.seconds(f)),
            t_settled_s: None,
            t_out_s: phases.out.map(|f| self.seconds(f)),
        }
    }

    fn lit(&self, group: &EventGroup, phases: &Phases) -> Result<Option<Lit>> {
        let Some(window) = phases.window else {
            return Ok(None);
        };
        let margin = MARGIN_S * self.recording.rate_hz();
        let trace = Trace::read(self.recording, &self.segment, window, margin)?;
        let sign = self.recording.electrode_negative_sign() as i8;
        let rest_a = self.recording.survey().noise_a.unwrap_or(f64::INFINITY);
        Ok(Some(Lit::of(
            trace,
            window,
            group,
            phases,
            (sign, rest_a),
            self.measuring,
        )))
    }

    fn measure(
        &self,
        start: &mut Start,
        group: &EventGroup,
        phases: &Phases,
        lit: &Lit,
    ) -> Result<()> {
        let rate = lit.trace.rate_hz;
        levels(&mut start.measures, lit, rate);
        interruptions(&mut start.measures, phases, lit, rate);
        transition(start, lit, rate);
        self.alternating(start, lit, rate);
        self.repeating(start, lit, rate);
        let settled = self.settle(start, phases, lit, rate);
        if let Some(settled) = settled {
            let heat = heat(self.recording, &self.segment, group, settled)?;
            start.measures.charge_c = Some(heat.charge_c);
            start.measures.energy_j = heat.energy_j;
        }
        self.wander(start, phases, lit, settled.unwrap_or(lit.window.off));
        self.uncertainty(start, phases, lit);
        if self.context.previews {
            let on = group.began().max(lit.window.on - PICTURE_BEFORE_S * rate);
            let preview = self.preview(on, lit.window.off)?;
            let kept = *start.preview.take().unwrap_or_default();
            start.preview = Some(Box::new(Preview {
                scatter: kept.scatter,
                spectrum: kept.spectrum,
                wander_band_hz: kept.wander_band_hz,
                ..preview
            }));
        }
        Ok(())
    }

    /// Run level and the settled instant, in frames.
    fn settle(&self, start: &mut Start, phases: &Phases, lit: &Lit, rate: f64) -> Option<f64> {
        let upslope = self.context.upslope_s.filter(|s| *s > 0.0);
        let least = upslope.and(start.measures.lit_a).unwrap_or(f64::INFINITY);
        let mut magnitude = Magnitude::of(lit, phases, least)?;
        if let Some(upslope) = upslope {
            magnitude.follow_upslope(lit.window.on, upslope * rate);
        }
        start.measures.run_a = Some(magnitude.run_a);
        if let Some(period) = magnitude.pulse {
            start.measures.pulse_hz = Some(rate / period);
        }
        if let Some([low_a, high_a]) = magnitude.either {
            start.doubt(Doubt::EitherLevel { low_a, high_a });
        }
        let settled = magnitude.settled(lit.window.on, self.measuring, rate);
        // Of an arc that rectifies its own flag says that the missing half-cycles decide.
        let told = start.flags.contains(&Flag::Rectifying);
        let hangs = magnitude.hangs(settled, lit.window.on, self.measuring, rate);
        if let Some((from, to)) = hangs.filter(|_| !told) {
            start.doubt(Doubt::Settling {
                from_s: self.seconds(from),
                to_s: to.map(|to| self.seconds(to)),
            });
        }
        match settled {
            Some(frame) => {
                let i = &mut start.instants;
                i.t_settled_s = Some(self.seconds(frame));
                let from = i.t_open_s.or(i.t_first_s);
                let ms = |a: Option<f64>| a.zip(i.t_settled_s).map(|(a, b)| (b - a) * 1e3);
                start.measures.settle_ms = ms(i.t_lit_s);
                start.measures.start_ms = ms(from);
            }
            None => start.flags.push(Flag::NotSettled),
        }
        settled
    }

    /// What a direct current does over and over: pulses, or its rectifier's ripple.
    fn repeating(&self, start: &mut Start, lit: &Lit, rate: f64) {
        if let Some(ripple) = lit.ripple {
            start.measures.ripple_pct = Some(ripple.pct);
            start.measures.ripple_hz = Some(rate / ripple.period);
        }
        if let Some(pulse) = lit.pulse.filter(|pulse| pulse.told) {
            start.measures.pulse_hz = Some(rate / pulse.period);
        }
        if lit.pulse.is_some_and(|pulse| !pulse.told) {
            start.flags.push(Flag::SlowRate);
        }
    }

    fn alternating(&self, start: &mut Start, lit: &Lit, rate: f64) {
        let Some(seen) = lit.alternation else { return };
        if seen.cycles_per_frame * MIN_CYCLE_SAMPLES > 1.0 {
            start.flags.push(Flag::SlowRate);
            return;
        }
        let m = &mut start.measures;
        m.ac_hz = Some(seen.cycles_per_frame * rate);
        m.en_share_pct = Some(100.0 * seen.share);
        m.missed_halfcycles = Some(seen.missed as f64);
        if let (Some(first), Some(last)) = (
            lit.halves.first(),
            lit.halves.iter().rfind(|h| h.sign != lit.halves[0].sign),
        ) {
            // Conventional sign: current into the electrode counts positive while the electrode is positive.
            let amps = lit.trace.amps_in(Span {
                on: first.span.on,
                off: last.span.off,
            });
            let mean = amps.iter().sum::<f64>() / amps.len().max(1) as f64;
            m.dc_offset_a = Some(-self.recording.electrode_negative_sign() * mean);
        }
        let cycles = (lit.window.len() * seen.cycles_per_frame).max(1.0);
        let worst = seen.missed_of_sign.max(seen.missed - seen.missed_of_sign) as f64;
        if worst > RECTIFYING_SHARE * cycles {
            start.flags.push(Flag::Rectifying);
        }
    }

    /// Expanded uncertainty (k = 2, JCGM 100) from the calibration, the sampling and the noise.
    fn uncertainty(&self, start: &mut Start, phases: &Phases, lit: &Lit) {
        let m = &mut start.measures;
        let samples = lit.trace.range(lit.window).len().max(1) as f64;
        let expanded = |gain: f64, noise: f64| 2.0 * gain.hypot(noise / samples.sqrt());
        m.u_run_a = m
            .run_a
            .map(|x| expanded(self.recording.u_amps(x), lit.noise_a));
        m.u_run_v = m
            .run_v
            .map(|x| expanded(self.recording.u_volts(x), lit.noise_v));
        // The gain's share alone: an offset does not reach the band. What disturbs the band only a rehearsal tells.
        let rehearsed = self.measuring.by_rehearsal.unwrap_or_default();
        m.u_wander_v = m.wander_v.zip(m.run_v).map(|(w, v)| {
            let gain = 2.0 * self.recording.u_volts(v) / v.max(1.0) * w;
            gain.hypot(rehearsed.u_wander_v.unwrap_or(0.0))
        });
        // Two instants, each somewhere inside its sample interval; on AC settling is told by half-cycles.
        let step_ms = 1e3 / lit.trace.rate_hz;
        let settle_ms = match phases.process {
            ArcKind::Dc => step_ms,
            ArcKind::Ac { period } => 0.5 * period * step_ms,
        };
        let by_sampling = 2.0 * ((step_ms.powi(2) + settle_ms.powi(2)) / 12.0).sqrt();
        m.u_start_ms = m
            .start_ms
            .map(|_| rehearsed.u_start_ms.unwrap_or(by_sampling));
    }

    fn preview(&self, on: f64, off: f64) -> Result<Preview> {
        let margin = MARGIN_S * self.recording.rate_hz();
        let trace = Trace::read(self.recording, &self.segment, Span { on, off }, margin)?;
        Ok(Preview::of(&trace, self.seconds(trace.first as f64)))
    }
}

fn flags(group: &EventGroup, phases: &Phases, recording: &Recording) -> Vec<Flag> {
    let segment_ends_inside = group.cut_end && recording.segments().len() > 1;
    let set = [
        (!recording.has_volts(), Flag::NoVoltage),
        (phases.short_window, Flag::ShortWindow),
        (
            group.cut_begin
                || group.mid_arc
                || group.cut_end && (phases.lit.is_none() || phases.short_window),
            Flag::CutOff,
        ),
        (segment_ends_inside, Flag::Gap),
        (phases.attempts > 1, Flag::Retry),
        (!phases.dropouts.is_empty(), Flag::Dropout),
        (!phases.touches.is_empty(), Flag::Touch),
    ];
    set.into_iter()
        .filter_map(|(is, flag)| is.then_some(flag))
        .collect()
}

fn levels(m: &mut Measures, lit: &Lit, rate: f64) {
    let volts = lit.trace.volts_in(lit.window);
    m.run_v = order::median_of_magnitudes(volts);
    let begin = Span {
        on: lit.window.on,
        off: (lit.window.on + LIT_S * rate).min(lit.window.off),
    };
    let amps = lit.trace.amps_in(begin);
    let sum: f64 = amps.iter().map(|i| i.abs()).sum();
    m.lit_a = (!amps.is_empty()).then(|| sum / amps.len() as f64);
}

fn interruptions(m: &mut Measures, phases: &Phases, lit: &Lit, rate: f64) {
    let ms = |s: &Span| s.len() / rate * 1e3;
    m.dropouts = Some(phases.dropouts.len() as f64);
    // Folded from 0: the sum of nothing is −0.
    m.dropout_ms = Some(phases.dropouts.iter().map(ms).fold(0.0, |a, b| a + b));
    m.dropout_longest_ms = Some(phases.dropouts.iter().map(ms).fold(0.0, f64::max));
    m.touches = (!lit.trace.volts.is_empty()).then_some(phases.touches.len() as f64);
}

fn transition(start: &mut Start, lit: &Lit, rate: f64) {
    match lit.onset {
        Onset::Rises {
            frames,
            overshoot_pct,
            blurred,
        } => {
            if blurred {
                start.flags.push(Flag::SlowRate);
            }
            start.measures.rise_ms = Some(frames / rate * 1e3);
            start.measures.overshoot_pct = overshoot_pct;
        }
        Onset::TooFast => start.flags.push(Flag::SlowRate),
        Onset::Hidden => start.flags.push(Flag::Discharge),
        Onset::Level | Onset::Unread => {}
    }
}
