//! A start cut into its instants: interval algebra on stretches of conducting and touching (docs/measures.md).

use crate::job::measuring::Measuring;
use crate::start::find::levels::PairLevels;
use crate::start::find::states::{BlockView, StateRun};
use crate::start::find::tracker::{ConductRun, Span};

/// All that happened from the circuit opening up (or the first current) until the arc was out again, in frames.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct EventGroup {
    /// The circuit opened up here.
    pub open: Option<f64>,
    /// Stretches of conducting, in order; those long after the observation window may be left out.
    pub runs: Vec<ConductRun>,
    /// Stretches of conducting with the voltage under the short level, in order.
    pub low: Vec<Span>,
    /// End of the last stretch of conducting.
    pub last_off: f64,
    /// The recording began while the circuit was open already.
    pub cut_begin: bool,
    /// The recording began while it conducted already: its start was not recorded.
    pub mid_arc: bool,
    /// The recording ended inside it.
    pub cut_end: bool,
    /// Its open stretch only follows from an arc that went out before.
    pub after_arc: bool,
    /// Whether it alternates, where both traces told; by the current's sign else.
    pub kind: Option<ArcKind>,
    /// The states that it was made of, where both traces told.
    pub seen: Option<Seen>,
}

/// What a group was made of: what its own check looks at.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Seen {
    pub levels: PairLevels,
    pub blocks: Vec<BlockView>,
    pub row: Vec<StateRun>,
    /// Which stretches conduct.
    pub flowing: Vec<bool>,
    /// End of the last open stretch.
    pub open_until: f64,
}

/// Whether the current changes its sign, and how fast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum ArcKind {
    Dc,
    /// Period in frames, from like sign changes.
    Ac {
        period: f64,
    },
}

/// A start cut into its instants, in frames.
#[derive(Debug, Clone)]
pub(crate) struct Phases {
    pub process: ArcKind,
    pub first: Option<f64>,
    pub lit: Option<f64>,
    pub out: Option<f64>,
    pub attempts: usize,
    /// Observation window: from `lit` to where it ends.
    pub window: Option<Span>,
    /// Not conducting inside the window.
    pub dropouts: Vec<Span>,
    /// Touching inside the window.
    pub touches: Vec<Span>,
    /// The window is shorter than asked.
    pub short_window: bool,
}

/// Sign changes that make a current alternating: fewer can be a pulse that rounds the tip, or ringing.
const AC_SIGN_CHANGES: usize = 6;
/// Longest pause of a sign change, s: 3 A sine at 20 Hz dwells about 5 ms under a 1 A level.
const SIGN_CHANGE_PAUSE_S: f64 = 0.025;

impl ArcKind {
    pub fn of(runs: &[ConductRun], rate_hz: f64) -> ArcKind {
        let alternates = |w: &[ConductRun]| {
            w[0].sign != w[1].sign && w[1].span.on - w[0].span.off < SIGN_CHANGE_PAUSE_S * rate_hz
        };
        if runs.windows(2).filter(|w| alternates(w)).count() < AC_SIGN_CHANGES {
            return ArcKind::Dc;
        }
        let mut periods: Vec<f64> = runs
            .windows(3)
            .filter(|w| alternates(&w[..2]) && alternates(&w[1..]))
            .map(|w| w[2].span.on - w[0].span.on)
            .collect();
        crate::stats::order::median_in_place(&mut periods)
            .map_or(ArcKind::Dc, |period| ArcKind::Ac { period })
    }

    /// Shortest interruption that counts, in frames.
    pub fn dropout_min(self, measuring: &Measuring, rate_hz: f64) -> f64 {
        match self {
            ArcKind::Dc => measuring.dropout_min_ms * 1e-3 * rate_hz,
            ArcKind::Ac { period } => measuring.dropout_min_halfcycles * 0.5 * period,
        }
    }
}

impl EventGroup {
    /// Cuts the start into its instants.
    pub fn phases(&self, measuring: &Measuring, rate_hz: f64) -> Phases {
        let process = self
            .kind
            .unwrap_or_else(|| ArcKind::of(&self.runs, rate_hz));
        let break_min = process.dropout_min(measuring, rate_hz);
        let chains = joined(self.runs.iter().map(|r| r.span), break_min);
        let touching = self.touching(break_min, measuring, rate_hz);
        let hold = measuring.hold_ms * 1e-3 * rate_hz;
        let lit = chains.iter().enumerate().find_map(|(k, &chain)| {
            without(chain, &touching)
                .into_iter()
                .find(|piece| piece.len() >= hold)
                .map(|piece| (k, piece.on))
        });
        let ends = (!self.cut_end).then_some(self.last_off);
        let window = lit.map(|(_, on)| Span {
            on,
            off: (on + measuring.observe_s * rate_hz).min(self.last_off),
        });
        let inside = |spans: &[Span]| window.map_or(Vec::new(), |w| clipped(spans, w));
        let gaps: Vec<Span> = chains
            .windows(2)
            .map(|w| Span {
                on: w[0].off,
                off: w[1].on,
            })
            .collect();
        Phases {
            process,
            first: chains.first().map(|c| c.on),
            lit: lit.map(|(_, on)| on),
            out: if chains.is_empty() { None } else { ends },
            attempts: lit.map_or(chains.len(), |(k, _)| k + 1),
            dropouts: inside(&gaps),
            touches: inside(&touching),
            short_window: window.is_some_and(|w| w.len() < measuring.observe_s * rate_hz - 1.0),
            window,
        }
    }

    /// Where it began: the circuit opening up, or the first current.
    pub fn began(&self) -> f64 {
        self.open
            .or(self.runs.first().map(|r| r.span.on))
            .unwrap_or(self.last_off)
    }

    /// Stretches of touching that last: on AC the voltage passes zero in every half-cycle.
    fn touching(&self, break_min: f64, measuring: &Measuring, rate_hz: f64) -> Vec<Span> {
        let bridge = measuring.dropout_min_ms * 1e-3 * rate_hz;
        let mut spans = joined(self.low.iter().copied(), bridge);
        spans.retain(|s| s.len() >= break_min);
        spans
    }

    /// Leaves out what happened long after the observation window, so that an arc of hours stays small.
    pub fn forget_after_window(&mut self, measuring: &Measuring, rate_hz: f64) {
        const MARGIN_S: f64 = 1.0;
        let Some(lit) = self.phases(measuring, rate_hz).lit else {
            return;
        };
        let until = lit + (measuring.observe_s + MARGIN_S) * rate_hz;
        self.runs.retain(|r| r.span.on < until);
        self.low.retain(|s| s.on < until);
    }
}

/// Joins spans whose gap is shorter than `bridge`.
fn joined(spans: impl Iterator<Item = Span>, bridge: f64) -> Vec<Span> {
    let mut out: Vec<Span> = Vec::new();
    for span in spans {
        match out.last_mut() {
            Some(last) if span.on - last.off < bridge => last.off = last.off.max(span.off),
            _ => out.push(span),
        }
    }
    out
}

/// What is left of a span when others, in order, are taken out of it.
fn without(span: Span, holes: &[Span]) -> Vec<Span> {
    let mut pieces = Vec::new();
    let mut from = span.on;
    for hole in holes.iter().take_while(|h| h.on < span.off) {
        if hole.on > from {
            pieces.push(Span {
                on: from,
                off: hole.on,
            });
        }
        from = from.max(hole.off);
    }
    if from < span.off {
        pieces.push(Span {
            on: from,
            off: span.off,
        });
    }
    pieces
}

/// The parts of spans inside a window.
fn clipped(spans: &[Span], window: Span) -> Vec<Span> {
    spans
        .iter()
        .filter(|s| s.off > window.on && s.on < window.off)
        .map(|s| Span {
            on: s.on.max(window.on),
            off: s.off.min(window.off),
        })
        .collect()
}

#[cfg(test)]
mod tests;
