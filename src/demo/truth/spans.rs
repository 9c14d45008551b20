//! Stretches of conducting and touching, read off the fine traces.

use super::facts::{CONDUCT_RELEASE, HOLD_S, IGNORED_S, SHORT_V};
use crate::circuit::Fine;

/// A stretch of time, s, and the sign of its current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct TrueSpan {
    pub on: f64,
    pub off: f64,
    pub sign: f64,
}

impl TrueSpan {
    pub fn len(&self) -> f64 {
        self.off - self.on
    }

    /// The part inside a window; `None` where there is none.
    pub fn inside(&self, window: (f64, f64)) -> Option<TrueSpan> {
        let (on, off) = (self.on.max(window.0), self.off.min(window.1));
        (off > on).then_some(TrueSpan { on, off, ..*self })
    }
}

/// Instant, in steps, at which a line from `a` (one step before `k`) to `b` meets a level.
pub(super) fn crossing(k: usize, a: f64, b: f64, level: f64) -> f64 {
    k as f64 - 1.0 + (level - a) / (b - a)
}

pub(super) fn conducting(fine: &Fine, conduct_a: f64) -> Vec<TrueSpan> {
    let release_a = CONDUCT_RELEASE * conduct_a;
    let mut found = Vec::new();
    let mut on: Option<(f64, f64)> = None;
    for (k, pair) in fine.amps.windows(2).enumerate() {
        let (a, b) = (pair[0], pair[1]);
        if let Some((at, sign)) = on
            && b * sign < release_a
        {
            found.push(TrueSpan {
                on: at,
                off: crossing(k + 1, a * sign, b * sign, release_a) * fine.dt,
                sign,
            });
            on = None;
        }
        if on.is_none() && b.abs() >= conduct_a {
            let sign = 1f64.copysign(b);
            on = Some((
                crossing(k + 1, a * sign, b * sign, conduct_a) * fine.dt,
                sign,
            ));
        }
    }
    assert!(on.is_none(), "a start ends quiet");
    found.retain(|s| s.len() >= IGNORED_S);
    found
}

pub(super) fn touching(fine: &Fine, conduct_a: f64) -> Vec<TrueSpan> {
    let mut found = Vec::new();
    let mut on = None;
    let low = |k: usize| fine.volts[k].abs() < SHORT_V && fine.amps[k].abs() >= conduct_a;
    for k in 1..fine.amps.len() {
        let (a, b) = (fine.volts[k - 1].abs(), fine.volts[k].abs());
        let at = match (a - SHORT_V) * (b - SHORT_V) < 0.0 {
            true => crossing(k, a, b, SHORT_V) * fine.dt,
            false => k as f64 * fine.dt,
        };
        match on {
            None if low(k) => on = Some(at),
            Some(from) if !low(k) => {
                found.push(TrueSpan {
                    on: from,
                    off: at,
                    sign: 0.0,
                });
                on = None;
            }
            _ => {}
        }
    }
    found
}

/// Stretches with every gap shorter than `bridge` closed.
pub(super) fn joined(stretches: &[TrueSpan], bridge: f64) -> Vec<TrueSpan> {
    let mut out: Vec<TrueSpan> = Vec::new();
    for s in stretches {
        match out.last_mut() {
            Some(last) if s.on - last.off < bridge => last.off = s.off,
            _ => out.push(*s),
        }
    }
    out
}

/// The instant in a chain of conducting from which it is free of touching for the hold.
pub(super) fn holds_from(chain: &TrueSpan, touching: &[TrueSpan]) -> Option<f64> {
    let mut from = chain.on;
    for touch in touching
        .iter()
        .filter(|t| t.off > chain.on && t.on < chain.off)
    {
        if touch.on - from >= HOLD_S {
            return Some(from);
        }
        from = touch.off;
    }
    (chain.off - from >= HOLD_S).then_some(from)
}
