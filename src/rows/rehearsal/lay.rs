//! Made traces through the logger of the recordings: their noise, hum, zero, sparks and ripple laid on, rounded, cut off.

use std::f64::consts::TAU;

use serde::Serialize;

use crate::demo::{Chance, open_s};
use crate::rehearsal::borrow::{Borrowed, Traces, WALK_S};
use crate::rehearsal::draw::Chunk;
use crate::rehearsal::setup::Setup;

/// What a logger and its surroundings do to a trace, each of which can be left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Noise at rest, with its spectrum.
    Noise,
    /// Mains hum at rest.
    Hum,
    /// The zero, and its walk.
    Zero,
    /// Sparks and pick-up while the circuit is open.
    Open,
    /// Ripple and pick-up in the arc's current.
    Ripple,
    /// Steps of the logger.
    Steps,
}

impl Cause {
    /// All of them.
    pub const ALL: [Cause; 6] = [
        Cause::Noise,
        Cause::Hum,
        Cause::Zero,
        Cause::Open,
        Cause::Ripple,
        Cause::Steps,
    ];
}

/// Longest stretch over which one borrowed piece passes into the next, samples.
const FADE: usize = 64;
/// Streams of chance: one for each thing laid on, so that leaving one out leaves the others as they are.
const NOISE_STREAM: u64 = 1;
const HUM_STREAM: u64 = 2;
const WALK_STREAM: u64 = 3;
const OPEN_STREAM: u64 = 4;
const RIPPLE_STREAM: u64 = 5;

/// What is laid on.
pub(crate) struct Laying<'a> {
    pub setup: &'a Setup,
    pub borrowed: &'a Borrowed,
    /// What is left out.
    pub without: &'a [Cause],
}

impl Laying<'_> {
    /// The traces of a made recording as the logger would have given them, A and V.
    pub fn traces(&self, chunk: &Chunk) -> Traces {
        let made = &chunk.made;
        let length = made.amps.len();
        let mut laid = self.at_rest(length, chunk.seed);
        self.lay_open(&mut laid, chunk);
        let ripple = self.ripple(chunk);
        let clean = [&made.amps, &made.volts];
        for (trace, values) in laid.iter_mut().enumerate() {
            let sign = self.setup.signs[trace];
            for (x, clean) in values.iter_mut().zip(clean[trace]) {
                *x += sign * clean;
            }
        }
        for (at, part) in ripple {
            laid[0][at] += part * self.setup.signs[0] * made.amps[at];
        }
        if self.lays(Cause::Zero) {
            self.lay_walk(&mut laid, chunk.seed);
        }
        for (trace, values) in laid.iter_mut().enumerate() {
            self.convert(values, trace);
        }
        laid
    }

    fn lays(&self, cause: Cause) -> bool {
        !self.without.contains(&cause)
    }

    /// Noise and hum of a rest of this many samples.
    fn at_rest(&self, length: usize, seed: u64) -> Traces {
        let mut laid = match self.lays(Cause::Noise) {
            true => spliced(
                &self.borrowed.rests,
                length,
                &mut Chance::new(seed, NOISE_STREAM),
            ),
            false => [vec![0.0; length], vec![0.0; length]],
        };
        if !self.setup.voltage {
            laid[1].clear();
        }
        if self.lays(Cause::Hum) {
            // The harmonics stay in step with the mains.
            let mains = Chance::new(seed, HUM_STREAM).between(0.0, TAU);
            for (line, times) in self.borrowed.hum.iter().zip(1..) {
                let turn = TAU * line.hz / self.setup.rate_hz;
                for (values, [amplitude, phase]) in laid.iter_mut().zip(line.traces) {
                    add_sine(values, amplitude, turn, f64::from(times) * mains + phase);
                }
            }
        }
        laid
    }

    /// Open circuits as they were, in place of rest.
    fn lay_open(&self, laid: &mut Traces, chunk: &Chunk) {
        if !self.lays(Cause::Open) || self.borrowed.opens.is_empty() {
            return;
        }
        let mut chance = Chance::new(chunk.seed, OPEN_STREAM);
        for (from, to) in open_s(&chunk.made.on_s, &chunk.made.arcs_s) {
            let range = self.range(from, to, laid[0].len());
            let other = mirrored(&self.borrowed.opens, range.len(), &mut chance);
            for (values, other) in laid.iter_mut().zip(other) {
                if !values.is_empty() {
                    values[range.clone()].copy_from_slice(&other);
                }
            }
        }
    }

    /// Ripple of the arcs: sample, and part of the current there.
    fn ripple(&self, chunk: &Chunk) -> Vec<(usize, f64)> {
        let ripples = self.borrowed.ripples();
        if !self.lays(Cause::Ripple) || ripples.is_empty() {
            return Vec::new();
        }
        let mut chance = Chance::new(chunk.seed, RIPPLE_STREAM);
        let length = chunk.made.amps.len();
        // The machine ripples on through dropouts and from arc to arc.
        let all = &looped(&ripples, length, &mut chance);
        let arcs = chunk.made.arcs_s.iter().flat_map(|&(from, to)| {
            let range = self.range(from, to, length);
            range.map(move |at| (at, all[at]))
        });
        arcs.collect()
    }

    /// The zero of a recording from somewhere on, there and back again.
    fn lay_walk(&self, laid: &mut Traces, seed: u64) {
        let walks = &self.borrowed.walks;
        let mut chance = Chance::new(seed, WALK_STREAM);
        let Some(walk) = walks.get(chance.below(walks.len().max(1))) else {
            return;
        };
        let last = walk.len().saturating_sub(1);
        let begin = chance.below(walk.len().max(1));
        let every = WALK_S * self.setup.rate_hz;
        for (trace, values) in laid.iter_mut().enumerate() {
            for (k, x) in values.iter_mut().enumerate() {
                let at = k as f64 / every;
                let step = begin + at as usize;
                let (a, b) = (
                    walk[turned(step, last)][trace],
                    walk[turned(step + 1, last)][trace],
                );
                *x += a + (b - a) * at.fract();
            }
        }
    }

    /// Rounds to the steps of the logger, cuts off at its limits.
    fn convert(&self, values: &mut [f64], trace: usize) {
        let step = self.borrowed.steps[trace];
        if step > 0.0 && self.lays(Cause::Steps) {
            values
                .iter_mut()
                .for_each(|x| *x = libm::rint(*x / step) * step);
        }
        if let Some(limit) = self.borrowed.limits[trace] {
            values.iter_mut().for_each(|x| *x = x.clamp(-limit, limit));
        }
    }

    fn range(&self, from_s: f64, to_s: f64, length: usize) -> std::ops::Range<usize> {
        let at = |t: f64| (libm::ceil(t * self.setup.rate_hz) as usize).min(length);
        at(from_s)..at(to_s).max(at(from_s))
    }
}

fn add_sine(values: &mut [f64], amplitude: f64, turn: f64, phase: f64) {
    if amplitude == 0.0 {
        return;
    }
    let (mut sin, mut cos) = libm::sincos(phase);
    let (s, c) = libm::sincos(turn);
    for x in values {
        *x += amplitude * sin;
        (sin, cos) = (sin * c + cos * s, cos * c - sin * s);
    }
}

/// A piece and a place in it; long pieces are taken as often as they are longer.
fn anywhere(lengths: &[usize], chance: &mut Chance) -> Option<(usize, usize)> {
    let mut at = chance.below(lengths.iter().sum::<usize>().max(1));
    for (piece, length) in lengths.iter().enumerate() {
        if at < *length {
            return Some((piece, at));
        }
        at -= length;
    }
    None
}

/// This many samples of one borrowed piece, from anywhere in it, over and over: it was cut so that its end goes on in its beginning.
fn looped(pieces: &[Vec<f64>], length: usize, chance: &mut Chance) -> Vec<f64> {
    let lengths: Vec<usize> = pieces.iter().map(Vec::len).collect();
    let Some((piece, at)) = anywhere(&lengths, chance) else {
        return vec![0.0; length];
    };
    let turning = pieces[piece].iter().cycle().skip(at);
    turning.take(length).copied().collect()
}

/// This many samples of one borrowed piece, from anywhere in it there and back again: what is narrow-band keeps its course.
fn mirrored(pieces: &[Traces], length: usize, chance: &mut Chance) -> Traces {
    let lengths: Vec<usize> = pieces.iter().map(|piece| piece[0].len()).collect();
    let Some((piece, at)) = anywhere(&lengths, chance) else {
        return [vec![0.0; length], vec![0.0; length]];
    };
    let piece = &pieces[piece];
    [0, 1].map(|trace| {
        let values = &piece[trace];
        let last = values.len().saturating_sub(1);
        let there_and_back = |k: usize| values[turned(at + k, last)];
        match values.is_empty() {
            true => Vec::new(),
            false => (0..length).map(there_and_back).collect(),
        }
    })
}

/// The place of a step that goes there and back between 0 and `last`.
fn turned(step: usize, last: usize) -> usize {
    match step % (2 * last).max(1) {
        k if k > last => 2 * last - k,
        k => k,
    }
}

/// This many samples of borrowed pieces in any order, forwards or backwards, one fading into the next so that their power
/// stays the same; zeros where there are no pieces.
fn spliced(pieces: &[Traces], length: usize, chance: &mut Chance) -> Traces {
    let mut laid: Traces = [Vec::with_capacity(length), Vec::with_capacity(length)];
    let usable: Vec<&Traces> = pieces.iter().filter(|p| p[0].len() >= 8).collect();
    if usable.is_empty() {
        return [vec![0.0; length], vec![0.0; length]];
    }
    while laid[0].len() < length {
        let piece = usable[chance.below(usable.len())];
        let backwards = chance.happens(0.5);
        let size = piece[0].len();
        // A short stretch is cut out of a long piece at any place.
        let first = chance.below(size.saturating_sub(length).max(1));
        let fade = FADE.min(size / 8);
        for (to, from) in laid.iter_mut().zip(piece) {
            let mut values: Vec<f64> = from[first.min(from.len())..].to_vec();
            if backwards {
                values.reverse();
            }
            join(to, values, fade);
        }
    }
    laid.iter_mut().for_each(|values| values.truncate(length));
    laid
}

/// Appends values, the first `fade` of them over the last.
fn join(to: &mut Vec<f64>, values: Vec<f64>, fade: usize) {
    let fade = fade.min(to.len()).min(values.len());
    let from = to.len() - fade;
    for k in 0..fade {
        let part = (k as f64 + 0.5) / fade as f64;
        to[from + k] = (1.0 - part).sqrt() * to[from + k] + part.sqrt() * values[k];
    }
    to.extend_from_slice(&values[fade..]);
}
