//! Answers that stay valid however often one looks and whenever one stops (anytime-valid).
//!
//! Values of the two samples are paired in the order they come, inside blocks; one without a partner
//! waits.
//! The bets are settled before each pair is seen, so the capital is a test martingale and, by
//! Ville's inequality, reaches 1/α with chance α at most where there is no difference.

use std::collections::VecDeque;

use statrs::function::beta::ln_beta;

use crate::stats::Interval;
use crate::stats::dist::bisect;

/// Values of two samples waiting for a partner of their own block.
#[derive(Debug, Clone, Default)]
struct Pairing {
    waiting: Vec<[VecDeque<f64>; 2]>,
}

impl Pairing {
    /// Takes a value of sample 0 or 1 in a block; gives the pair it completes.
    fn add(&mut self, block: usize, sample: usize, value: f64) -> Option<(f64, f64)> {
        if self.waiting.len() <= block {
            self.waiting.resize_with(block + 1, Default::default);
        }
        self.waiting[block][sample].push_back(value);
        let [a, b] = &mut self.waiting[block];
        if a.is_empty() || b.is_empty() {
            return None;
        }
        a.pop_front().zip(b.pop_front())
    }
}

/// Evidence that two event rates differ: an e-process.
///
/// Turner, Ly & Grünwald (2024), "Generic E-variables for exact sequential k-sample tests that allow
/// for optional stopping", with one value of each sample a block and plug-in rates from a
/// Beta(0.18, 0.18) prior. A block's factor is p(yₐ; θₐ) p(y_b; θ_b) / p(yₐ; θ₀) p(y_b; θ₀) with
/// θ₀ = (θₐ + θ_b)/2; its mean under one common rate is 1 − x² ≤ 1.
#[derive(Debug, Clone, Default)]
pub struct RatesProcess {
    pairing: Pairing,
    events: [f64; 2],
    pairs: usize,
    ln_e: f64,
    ln_e_most: f64,
}

impl RatesProcess {
    /// Takes the outcome of one trial of sample 0 or 1; it is paired inside its block.
    pub fn add(&mut self, block: usize, sample: usize, event: bool) {
        const PRIOR: f64 = 0.18;
        let value = f64::from(u8::from(event));
        let Some((a, b)) = self.pairing.add(block, sample, value) else {
            return;
        };
        let rates = self
            .events
            .map(|events| (events + PRIOR) / (self.pairs as f64 + 2.0 * PRIOR));
        let common = 0.5 * (rates[0] + rates[1]);
        let chance = |rate: f64, event: f64| if event > 0.0 { rate } else { 1.0 - rate };
        self.ln_e += (chance(rates[0], a) * chance(rates[1], b)).ln()
            - (chance(common, a) * chance(common, b)).ln();
        self.ln_e_most = self.ln_e_most.max(self.ln_e);
        self.events[0] += a;
        self.events[1] += b;
        self.pairs += 1;
    }

    /// Pairs seen.
    pub fn pairs(&self) -> usize {
        self.pairs
    }

    /// Whether the first sample shows more events so far.
    pub fn first_is_higher(&self) -> bool {
        self.events[0] > self.events[1]
    }

    /// The largest e-value so far: evidence against equal rates, 1 being none; the largest number
    /// where it would be infinite.
    pub fn largest_e(&self) -> f64 {
        self.ln_e_most.exp().min(f64::MAX)
    }

    /// p that stays valid when looked at after every trial: 1 / the largest e-value so far.
    pub fn p(&self) -> f64 {
        (-self.ln_e_most).exp().min(1.0)
    }
}

/// Confidence sequence of a rate after `k` events in `n` trials: all rates p at which the uniform
/// mixture's likelihood ratio B(k+1, n−k+1) / pᵏ(1−p)ⁿ⁻ᵏ is under 1/α (Robbins 1970).
pub fn rate_sequence(k: u64, n: u64, level: f64) -> Interval {
    assert!(k <= n, "no more events than trials");
    let (hits, misses) = (k as f64, (n - k) as f64);
    let threshold = ln_beta(hits + 1.0, misses + 1.0) + (1.0 - level).ln();
    let term = |count: f64, p: f64| if count == 0.0 { 0.0 } else { count * p.ln() };
    let outside = |p: f64| term(hits, p) + term(misses, 1.0 - p) < threshold;
    let best = if n == 0 { 0.5 } else { hits / n as f64 };
    Interval {
        lo: if k == 0 {
            0.0
        } else {
            bisect(0.0, best, outside)
        },
        hi: if k == n {
            1.0
        } else {
            bisect(best, 1.0, |p| !outside(p))
        },
    }
}

/// Confidence sequence of the mean difference of two samples of values in [0, 1], by betting.
///
/// Waudby-Smith & Ramdas (2024), "Estimating means of bounded random variables by betting", the
/// hedged capital of their theorem 3, on (1 + b − a)/2 of each pair.
#[derive(Debug, Clone)]
pub struct BettingPairs {
    level: f64,
    pairing: Pairing,
    /// Each pair's value in [0, 1] with the bet placed before it was seen.
    bets: Vec<(f64, f64)>,
    sum: f64,
    squares: f64,
}

/// Part of the capital that may be lost in one bet.
const STAKE: f64 = 0.75;

impl BettingPairs {
    /// Starts with nothing seen.
    pub fn new(level: f64) -> Self {
        BettingPairs {
            level,
            pairing: Pairing::default(),
            bets: Vec::new(),
            sum: 0.5,
            squares: 0.25,
        }
    }

    /// Takes one value of sample 0 or 1; it is paired inside its block.
    ///
    /// # Panics
    /// On a value outside [0, 1].
    pub fn add(&mut self, block: usize, sample: usize, value: f64) {
        assert!((0.0..=1.0).contains(&value), "values lie in [0, 1]");
        let Some((a, b)) = self.pairing.add(block, sample, value) else {
            return;
        };
        let x = 0.5 * (1.0 + b - a);
        let t = (self.bets.len() + 1) as f64;
        // Their λ for time t: √(2 ln(2/α) / (σ̂² t ln(t + 1))), where σ̂² t is the sum of squares
        // so far (their σ̂² of the t − 1 pairs before divides it by t).
        let bet = (2.0 * self.needed() / (self.squares * (t + 1.0).ln())).sqrt();
        self.bets.push((x, bet));
        self.sum += x;
        self.squares += (x - self.sum / (t + 1.0)).powi(2);
    }

    /// Pairs seen.
    pub fn pairs(&self) -> usize {
        self.bets.len()
    }

    /// Interval of the mean of b less that of a, in [−1, 1].
    pub fn interval(&self) -> Interval {
        let needed = self.needed();
        let lo = bisect(0.0, 1.0, |m| self.capital(m, 1.0) >= needed);
        let hi = bisect(0.0, 1.0, |m| self.capital(m, -1.0) < needed);
        Interval {
            lo: 2.0 * lo - 1.0,
            hi: 2.0 * hi - 1.0,
        }
    }

    /// ln(2/α): the ln capital that half a stake must reach to count.
    fn needed(&self) -> f64 {
        (2.0 / (1.0 - self.level)).ln()
    }

    /// Largest ln capital so far of betting that the mean lies over (`side` 1) or under (−1) `m`.
    fn capital(&self, m: f64, side: f64) -> f64 {
        let room = if side > 0.0 { m } else { 1.0 - m };
        let mut ln = 0.0;
        let mut most = 0.0_f64;
        for &(x, bet) in &self.bets {
            ln += (bet.min(STAKE / room) * side * (x - m)).ln_1p();
            most = most.max(ln);
        }
        most
    }
}
