//! A start's own check: how much of its time its states explain, and whether a second reading of the same blocks with
//! other levels tells the same (docs/measures.md).

use crate::job::measuring::Measuring;
use crate::recording::block_frames;
use crate::start::doubt::{Counted, Doubt, SecondReading};
use crate::start::find::joint::JointDetector;
use crate::start::find::levels::PairLevels;
use crate::start::find::phases::{ArcKind, EventGroup, Phases, Seen};
use crate::start::find::states::State;

/// What a start must be explained to, %.
const EXPLAINED_PCT: f64 = 98.0;
/// A change of state may take this long, s: what lies between belongs to it.
const CHANGE_S: f64 = 0.003;
/// Current without voltage for longer than this inside an arc is no touch, s …
const LONG_TOUCH_S: f64 = 0.3;
/// … nor is it where no arc follows, s.
const NO_ARC_S: f64 = 0.06;
/// A touch before the arc has less than this multiple of what surely flows: half of the run level, about.
const FULL_TIMES: f64 = 5.0;
/// An arc's voltage without current is reported from this long on, s.
const DEAD_CURRENT_S: f64 = 0.03;
/// An open circuit falls to an arc's voltage by as much in one change.
const ARC_LIKE: f64 = 0.75;
/// The levels of the second reading: flow, open and touch level in multiples of the first.
const OTHER_LEVELS: [[f64; 3]; 6] = [
    [0.6, 1.0, 1.0],
    [1.6, 1.0, 1.0],
    [1.0, 0.85, 1.0],
    [1.0, 1.15, 1.0],
    [1.0, 1.0, 0.8],
    [1.0, 1.0, 1.2],
];
/// A pick-up is recognised by an open circuit that lasts this long, s.
const OPEN_S: f64 = 0.02;
/// Instants of two readings may differ by this and two blocks, s: strike and opening.
const STRIKE_S: f64 = 0.5e-3;
const OPENING_S: f64 = 2e-3;

/// What the check looks at.
pub(crate) struct Check<'a> {
    pub group: &'a EventGroup,
    pub measuring: &'a Measuring,
    pub rate_hz: f64,
}

impl Check<'_> {
    /// Share of its time that its states explain, %, and what speaks against its reading; `None` for a start that was not
    /// read by both traces.
    pub fn verdict(&self) -> Option<(f64, Vec<Doubt>)> {
        let seen = self.group.seen.as_ref()?;
        let phases = self.group.phases(self.measuring, self.rate_hz);
        let explained_pct = self.explained_pct(seen, &phases);
        let mut doubts = Vec::new();
        if explained_pct < EXPLAINED_PCT {
            doubts.push(Doubt::Unexplained { explained_pct });
        }
        doubts.extend(self.one_sided(seen, &phases));
        doubts.extend(self.second_reading(seen, &phases));
        Some((explained_pct, doubts))
    }

    /// Mean current while the circuit was open before the arc, A: a pick-up that the arc's current may hold as well.
    pub fn open_a(&self) -> Option<f64> {
        let seen = self.group.seen.as_ref()?;
        let lit = self.group.phases(self.measuring, self.rate_hz).lit?;
        let open = seen
            .blocks
            .iter()
            .filter(|b| b.off < lit && seen.levels.state(b.amps, b.volts) == State::Open);
        let (sum, frames) = open.fold((0.0, 0.0), |(sum, frames), b| {
            (sum + b.amps * (b.off - b.on), frames + b.off - b.on)
        });
        (frames >= OPEN_S * self.rate_hz).then(|| sum / frames)
    }

    /// From its beginning to its window's end, or to where the circuit closed.
    fn reach(&self, seen: &Seen, phases: &Phases) -> (f64, f64) {
        let end = match phases.window {
            Some(window) => window.off,
            None => self.group.last_off.max(seen.open_until),
        };
        (self.group.began(), end)
    }

    fn explained_pct(&self, seen: &Seen, phases: &Phases) -> f64 {
        let (from, to) = self.reach(seen, phases);
        let change = CHANGE_S * self.rate_hz;
        let mut odd = 0.0;
        for (run, flows) in seen.row.iter().zip(&seen.flowing) {
            let fits = *flows || matches!(run.state, State::Rest | State::Open);
            if !fits {
                let inside = run.off.min(to) - run.on.max(from);
                odd += (inside - change).max(0.0);
            }
        }
        100.0 * (1.0 - odd / (to - from).max(change))
    }

    /// Where one trace shows what the other must show too, and does not.
    fn one_sided(&self, seen: &Seen, phases: &Phases) -> Option<Doubt> {
        let (from, to) = self.reach(seen, phases);
        let lit = phases.lit;
        let s = |frames: f64| frames / self.rate_hz;
        for (k, run) in seen.row.iter().enumerate() {
            let long = s(run.len());
            let touch = run.state == State::Touch && seen.flowing[k];
            let turned = touch && long > NO_ARC_S && self.turned(seen, (run.on, run.off), phases);
            let late = run.on >= to + self.measuring.out_gap_ms * 1e-3 * self.rate_hz;
            if run.off <= from || late && !turned {
                continue;
            }
            let before = k.checked_sub(1).map(|k| &seen.row[k]);
            let in_arc = lit.is_some_and(|lit| run.on > lit);
            let full = run.mean_a() > FULL_TIMES * seen.levels.sure_a;
            let most = match (lit, in_arc || full) {
                _ if turned => NO_ARC_S,
                (None, _) => NO_ARC_S,
                (_, true) => LONG_TOUCH_S,
                _ => f64::INFINITY,
            };
            if touch && long > most {
                return Some(Doubt::NoVoltage {
                    amps: run.mean_a(),
                    for_s: long,
                });
            }
            let falls = before.is_some_and(|b| match b.state {
                State::Arc => true,
                State::Open => first_volts(seen, run.on) < ARC_LIKE * seen.levels.idle_open_v,
                _ => false,
            });
            if run.state == State::Odd && !seen.flowing[k] && long > DEAD_CURRENT_S && falls {
                return Some(Doubt::NoCurrent {
                    volts: run.mean_v(),
                    for_s: long,
                });
            }
        }
        None
    }

    /// Whether a current flows the other way than the direct current of the arc before: a touch cannot turn it round, but what a high-pass leaves
    /// of the trace when the arc goes out does.
    fn turned(&self, seen: &Seen, (on, off): (f64, f64), phases: &Phases) -> bool {
        let direct = self.group.kind == Some(ArcKind::Dc);
        let Some(window) = phases.window.filter(|w| direct && on >= w.on) else {
            return false;
        };
        let sum = |on: f64, off: f64| -> f64 {
            let inside = seen.blocks.iter().filter(|b| b.on >= on && b.off <= off);
            inside.map(|b| b.amps).sum()
        };
        sum(window.on, window.off.min(on)) * sum(on, off) < 0.0
    }

    /// The first of the other readings that tells something else.
    fn second_reading(&self, seen: &Seen, phases: &Phases) -> Option<Doubt> {
        OTHER_LEVELS.iter().find_map(|factors| {
            let levels = other(seen.levels, factors);
            let same = |b: &&crate::start::find::states::BlockView| {
                levels.state(b.amps, b.volts) == seen.levels.state(b.amps, b.volts)
            };
            if seen.blocks.iter().filter(|b| !same(b)).count() < 2 {
                return None;
            }
            let group = again(seen, levels, self)?;
            let second = group.phases(self.measuring, self.rate_hz);
            self.difference(&group, phases, &second)
                .map(Doubt::SecondReading)
        })
    }

    fn difference(
        &self,
        group: &EventGroup,
        first: &Phases,
        second: &Phases,
    ) -> Option<SecondReading> {
        let blocks = 2.0 * block_frames(self.rate_hz) as f64;
        let apart = |a: Option<f64>, b: Option<f64>, within: f64| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() > blocks + within * self.rate_hz,
            (a, b) => a.is_some() != b.is_some(),
        };
        let count = |what, first: usize, second: usize| {
            (first != second).then_some(SecondReading::Count {
                what,
                first,
                second,
            })
        };
        if first.lit.is_some() != second.lit.is_some() {
            return Some(SecondReading::Lit);
        }
        count(Counted::Attempts, first.attempts, second.attempts)
            .or_else(|| {
                count(
                    Counted::Dropouts,
                    first.dropouts.len(),
                    second.dropouts.len(),
                )
            })
            .or_else(|| count(Counted::Touches, first.touches.len(), second.touches.len()))
            .or_else(|| {
                let strike = apart(first.first, second.first, STRIKE_S)
                    || apart(first.lit, second.lit, STRIKE_S);
                // What stands open from the last arc on opened with its end, and is not reported.
                let told = !self.group.after_arc;
                let opening = told && apart(self.group.open, group.open, OPENING_S);
                (strike || opening).then_some(SecondReading::Instant)
            })
    }
}

fn first_volts(seen: &Seen, on: f64) -> f64 {
    const FIRST: usize = 8;
    let about = seen.blocks.iter().skip_while(|b| b.on < on).take(FIRST);
    let (sum, count) = about.fold((0.0, 0.0), |(s, n), b| (s + b.volts.abs(), n + 1.0));
    sum / f64::max(count, 1.0)
}

fn other(levels: PairLevels, [flow, open, touch]: &[f64; 3]) -> PairLevels {
    PairLevels {
        flow_a: flow * levels.flow_a,
        sure_a: levels.sure_a,
        touch_v: touch * levels.touch_v,
        open_v: open * levels.open_v,
        idle_open_v: open * levels.idle_open_v,
        stands_v: levels.stands_v,
        stands_a: levels.stands_a,
    }
}

/// The blocks of a group read again; `None` where nothing is found that could be the same start.
fn again(seen: &Seen, levels: PairLevels, check: &Check<'_>) -> Option<EventGroup> {
    let first = seen.blocks.first()?.on - 1.0;
    let mut detector = JointDetector::new(levels, check.measuring, check.rate_hz, first as u64);
    for block in &seen.blocks {
        detector.push(*block);
    }
    detector.finish();
    let (from, to) = (check.group.began(), check.group.last_off);
    let overlap = |g: &EventGroup| to.min(g.last_off) - from.max(g.began());
    let found = detector.done.into_iter();
    found.max_by(|a, b| overlap(a).total_cmp(&overlap(b)))
}

#[cfg(test)]
mod tests;
