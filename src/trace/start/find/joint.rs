//! The states of both traces, in a row, become starts (docs/measures.md).

use crate::job::measuring::Measuring;
use crate::start::find::levels::PairLevels;
use crate::start::find::phases::{ArcKind, EventGroup, Seen};
use crate::start::find::states::{BlockView, State, StateRun, append, rises};
use crate::start::find::tracker::{ConductRun, Span};
use crate::stats::order;

/// Changes of sign that make an arc alternating …
const AC_SIGN_CHANGES: usize = 6;
/// … where nothing burns for no longer than this, s …
const SIGN_CHANGE_PAUSE_S: f64 = 0.04;
/// … and where they follow each other within this, s: 20 Hz that burn 99 % of the time one way.
const LONGEST_HALF_S: f64 = 0.06;
/// What flows at the least while the tungsten touches before a lift, A (common practice, no source).
const LIFT_A: f64 = 4.0;
/// A voltage on its way from the open circuit to the arc takes no longer, s.
const STRIKE_S: f64 = 0.03;
/// One on its way from rest to the open circuit, or back, takes no longer, s.
const ON_THE_WAY_S: f64 = 0.006;
/// Gaps in the open circuit up to this long, s: an alternating voltage passes through zero.
const OPEN_HOLE_S: f64 = 0.012;
/// Stretches a group keeps before what lies long after its window is dropped.
const MANY_RUNS: usize = 4096;
/// What is there so soon was there when the recording began, s: a logger's own filter takes a moment.
const AT_BEGIN_S: f64 = 1e-3;
/// Blocks a group keeps for its second reading.
const MANY_BLOCKS: usize = 1 << 17;
/// Blocks that are dropped at a time while nothing has begun.
const BEFORE: usize = 256;
/// Kept after the window, s.
const AFTER_WINDOW_S: f64 = 1.0;

/// Groups the states of one segment into starts, in bounded memory.
pub(crate) struct JointDetector {
    pub levels: PairLevels,
    measuring: Measuring,
    rate_hz: f64,
    out_gap: f64,
    first: f64,
    now: f64,
    row: Vec<StateRun>,
    /// Blocks of the group under way, and a few before.
    blocks: Vec<BlockView>,
    begun: Option<Begun>,
    last_conduct: f64,
    last_open: f64,
    /// (stretches seen, lit) when last asked.
    lit_known: (usize, bool),
    /// Starts that are over, in order.
    pub done: Vec<EventGroup>,
}

/// How the group under way began.
#[derive(Clone, Copy)]
struct Begun {
    conducted: bool,
    cut_begin: bool,
    mid_arc: bool,
    after_arc: bool,
}

impl JointDetector {
    pub fn new(levels: PairLevels, measuring: &Measuring, rate_hz: f64, first: u64) -> Self {
        JointDetector {
            levels,
            measuring: measuring.clone(),
            rate_hz,
            out_gap: measuring.out_gap_ms * 1e-3 * rate_hz,
            first: first as f64,
            now: first as f64,
            row: Vec::new(),
            blocks: Vec::new(),
            begun: None,
            last_conduct: f64::NEG_INFINITY,
            last_open: f64::NEG_INFINITY,
            lit_known: (0, false),
            done: Vec::new(),
        }
    }

    /// Takes the block, or the cell of one state, that follows.
    pub fn push(&mut self, block: BlockView) {
        let hash = 0.5 * self.measuring.dropout_min_ms * 1e-3 * self.rate_hz;
        append(&mut self.row, self.levels.run(&block), hash);
        self.now = block.off;
        if self.blocks.len() < MANY_BLOCKS {
            self.blocks.push(block);
        }
        self.follow();
        self.end_if_over();
    }

    /// Whether a stretch surely conducts, whatever follows it: a touch by its current, or by more of it than the open circuit
    /// showed that it ends.
    fn conducts(&self, k: usize) -> bool {
        let run = &self.row[k];
        match run.state {
            State::Arc => true,
            State::Touch => run.mean_a() > self.levels.sure_a || self.lifts(k),
            _ => false,
        }
    }

    fn lifts(&self, k: usize) -> bool {
        let before = self.row[..k].iter().rev().find(|r| r.told());
        let open = before.filter(|r| r.state == State::Open);
        open.is_some_and(|open| {
            self.row[k].mean_a() > LIFT_A.max(open.mean_a() + 2.0 * self.levels.flow_a)
        })
    }

    fn follow(&mut self) {
        let Some(&last) = self.row.last().filter(|r| r.told()) else {
            return;
        };
        let at_begin = last.on <= self.first + AT_BEGIN_S * self.rate_hz;
        if self.conducts(self.row.len() - 1) {
            self.last_conduct = last.off;
            let begun = self.begun.get_or_insert(Begun {
                conducted: true,
                cut_begin: false,
                mid_arc: at_begin,
                after_arc: false,
            });
            begun.conducted = true;
            begun.mid_arc |= at_begin;
        } else if last.state == State::Open {
            self.last_open = last.off;
            self.begun.get_or_insert(Begun {
                conducted: false,
                cut_begin: at_begin,
                mid_arc: false,
                after_arc: false,
            });
        } else if self.begun.is_none() && self.row.len() > 2 {
            // Nothing has begun: what stands just before is all that is needed.
            self.row.drain(..self.row.len() - 2);
        }
        if self.begun.is_none() {
            let from = self
                .row
                .first()
                .map_or(self.now, |r| r.on.max(self.now - self.out_gap));
            let before = self.blocks.iter().take_while(|b| b.on < from).count();
            // Now and then: what is kept has to be moved.
            if before > BEFORE {
                self.blocks.drain(..before);
            }
        }
        if self.row.len() >= MANY_RUNS && self.row.len().is_power_of_two() {
            self.forget_after_window();
        }
    }

    /// Leaves out what happened long after the observation window, so that an arc of hours stays small.
    fn forget_after_window(&mut self) {
        let phases = self.group(false).phases(&self.measuring, self.rate_hz);
        let Some(lit) = phases.lit else { return };
        let until = lit + (self.measuring.observe_s + AFTER_WINDOW_S) * self.rate_hz;
        let last = self.row.len().saturating_sub(2);
        let mut k = 0;
        self.row.retain(|r| {
            k += 1;
            r.on < until || k > last
        });
        self.blocks.retain(|b| b.on < until);
    }

    /// Ends the group where the arc is out, or where the circuit closed without one.
    fn end_if_over(&mut self) {
        let Some(begun) = self.begun else { return };
        let now = self.now;
        let quiet = |since: f64| now - since >= self.out_gap;
        if begun.conducted && !quiet(self.last_conduct) {
            return;
        }
        // A single block of an arc tells nothing yet, however long the voltage had fallen before it.
        if !(quiet(self.last_open) || (begun.conducted && self.is_lit())) {
            return;
        }
        self.end_group(false);
        if let Some(last) = self
            .row
            .last()
            .copied()
            .filter(|r| r.told() && r.state == State::Open)
        {
            self.row = vec![last];
            self.begun = Some(Begun {
                conducted: false,
                cut_begin: false,
                mid_arc: false,
                after_arc: true,
            });
        }
    }

    /// Whether an arc has held in the group under way.
    fn is_lit(&mut self) -> bool {
        if self.lit_known.0 != self.row.len() {
            let group = self.group(false);
            let lit = group.phases(&self.measuring, self.rate_hz).lit.is_some();
            self.lit_known = (self.row.len(), lit);
        }
        self.lit_known.1
    }

    /// Lets a group go. An open circuit that no current followed is a start that did not light, unless it is only
    /// what an arc leaves behind, or a blip.
    fn end_group(&mut self, cut_end: bool) {
        self.lit_known = (0, false);
        let group = self.group(cut_end);
        self.begun = None;
        // What is over has no part in what follows.
        let keep = self.row.len().saturating_sub(1);
        self.row.drain(..keep);
        let from = self.row.first().map_or(self.now, |r| r.on);
        self.blocks.retain(|b| b.on >= from);
        let hold = self.measuring.hold_ms * 1e-3 * self.rate_hz;
        let held_open = group
            .open
            .is_some_and(|on| !group.after_arc && self.last_open - on >= hold);
        if !group.runs.is_empty() || held_open {
            self.done.push(group);
        }
    }

    /// The segment is over: what is under way is cut off here.
    pub fn finish(&mut self) {
        if self.begun.is_none() {
            return;
        }
        // A blip at the end says nothing yet.
        let last = self.row.iter().rposition(StateRun::told);
        let under_way = last.is_some_and(|k| {
            self.conducts(k) || self.row[k].state == State::Open && !self.is_lit()
        });
        self.end_group(under_way);
        self.row.clear();
    }

    /// What the row tells of the group under way.
    fn group(&self, cut_end: bool) -> EventGroup {
        let begun = self.begun.expect("a group is under way");
        let kind = kind(&self.row, self.rate_hz);
        let flowing = self.flowing(kind);
        let opens = self.opens();
        let spans = join(&self.row, &flowing, self.shortest(kind));
        let first = spans.first().map(|r| r.span.on);
        let open = opens
            .first()
            .map(|o| o.on)
            .filter(|on| first.is_none_or(|f| *on < f));
        let low = (0..self.row.len())
            .filter(|&k| flowing[k] && self.row[k].state == State::Touch)
            .map(|k| Span {
                on: self.row[k].on,
                off: self.row[k].off,
            });
        EventGroup {
            open: open.filter(|_| !begun.cut_begin),
            last_off: spans
                .last()
                .map_or(open.unwrap_or(self.now), |r| r.span.off),
            low: low.collect(),
            runs: spans,
            cut_begin: begun.cut_begin,
            mid_arc: begun.mid_arc,
            after_arc: begun.after_arc,
            cut_end,
            kind: Some(kind),
            seen: Some(Seen {
                levels: self.levels,
                row: self.row.clone(),
                blocks: self.blocks.clone(),
                open_until: self.last_open,
                flowing,
            }),
        }
    }

    /// Shorter stretches of conducting are none, in frames.
    fn shortest(&self, kind: ArcKind) -> f64 {
        match kind {
            ArcKind::Dc => self.measuring.dropout_min_ms * 1e-3 * self.rate_hz,
            ArcKind::Ac { .. } => 0.0,
        }
    }

    /// Which stretches conduct. Only on AC an arc's voltage passes where the current is small, at its zero; on DC a current
    /// that is gone from an arc is gone, but for one that still rises.
    fn flowing(&self, kind: ArcKind) -> Vec<bool> {
        let alternates = kind != ArcKind::Dc;
        let told = |k: usize| self.row.get(k).map(|r| r.state);
        let rises = |k: usize| rises(&self.row[..=k], self.levels.sure_a, STRIKE_S * self.rate_hz);
        let mut flowing = vec![false; self.row.len()];
        for (k, run) in self.row.iter().enumerate() {
            let next = told(k + 1) == Some(State::Arc);
            let before = k.checked_sub(1).and_then(told);
            flowing[k] = match run.state {
                State::Arc => !self.on_the_way(run, before, told(k + 1)),
                State::Touch => {
                    self.conducts(k)
                        || next && matches!(before, Some(State::Open | State::Arc | State::Odd))
                }
                State::Odd => {
                    let short = run.len() <= STRIKE_S * self.rate_hz;
                    let passes = before == Some(State::Arc) && (alternates || rises(k));
                    short && next && (before == Some(State::Open) || passes)
                }
                _ => false,
            };
        }
        flowing
    }

    /// A voltage on its way between rest and open circuit passes where arcs burn: with a pick-up beside it that is no arc.
    fn on_the_way(&self, run: &StateRun, before: Option<State>, next: Option<State>) -> bool {
        let low =
            |s: Option<State>| matches!(s, None | Some(State::Rest | State::Odd | State::Touch));
        let open = |s: Option<State>| s == Some(State::Open);
        let between = low(before) && open(next) || open(before) && low(next);
        between && run.len() <= ON_THE_WAY_S * self.rate_hz && run.mean_a() < self.levels.sure_a
    }

    /// The open circuit, holes in it closed.
    fn opens(&self) -> Vec<Span> {
        let hole = OPEN_HOLE_S * self.rate_hz;
        let mut opens: Vec<Span> = Vec::new();
        for run in self.row.iter().filter(|r| r.state == State::Open) {
            match opens.last_mut() {
                Some(last) if run.on - last.off <= hole => last.off = run.off,
                _ => opens.push(Span {
                    on: run.on,
                    off: run.off,
                }),
            }
        }
        let least = 0.001 * self.rate_hz;
        opens.retain(|o| o.len() >= least);
        opens
    }
}

/// Joins what conducts without a pause; what is shorter than `shortest` or one block is none. On AC every half-wave that
/// the voltage shows is a run of its own.
fn join(row: &[StateRun], flowing: &[bool], shortest: f64) -> Vec<ConductRun> {
    let mut runs: Vec<(ConductRun, u32)> = Vec::new();
    for (run, _) in row.iter().zip(flowing).filter(|(_, flows)| **flows) {
        match runs.last_mut() {
            Some((last, blocks)) if last.span.off >= run.on => {
                last.span.off = run.off;
                *blocks += run.blocks;
            }
            _ => runs.push((
                ConductRun {
                    sign: run.sign,
                    span: Span {
                        on: run.on,
                        off: run.off,
                    },
                },
                run.blocks,
            )),
        }
    }
    runs.retain(|(run, blocks)| *blocks > 1 && run.span.len() >= shortest);
    runs.into_iter().map(|(run, _)| run).collect()
}

/// Whether the arc alternates, by the sign of its voltage: a half-wave arc does, too, for the open circuit between has the
/// other sign.
fn kind(row: &[StateRun], rate_hz: f64) -> ArcKind {
    let pause = SIGN_CHANGE_PAUSE_S * rate_hz;
    let live: Vec<&StateRun> = row
        .iter()
        .filter(|r| matches!(r.state, State::Arc | State::Open))
        .collect();
    let turns: Vec<f64> = live
        .windows(2)
        .filter(|w| w[0].sign != w[1].sign && w[1].on - w[0].off < pause)
        .filter(|w| w[0].state == State::Arc || w[1].state == State::Arc)
        .map(|w| w[1].on)
        .collect();
    if turns.len() < AC_SIGN_CHANGES {
        return ArcKind::Dc;
    }
    let longest = LONGEST_HALF_S * rate_hz;
    let mut periods: Vec<f64> = turns
        .windows(3)
        .filter(|w| w[1] - w[0] < longest && w[2] - w[1] < longest)
        .map(|w| w[2] - w[0])
        .collect();
    order::median_in_place(&mut periods).map_or(ArcKind::Dc, |period| ArcKind::Ac { period })
}

#[cfg(test)]
mod tests;
