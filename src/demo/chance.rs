//! Seeded chance: the same numbers on every platform.

use std::f64::consts::TAU;

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

/// A stream of random numbers that its seed and stream number fix for good.
pub struct Chance(ChaCha8Rng);

impl Chance {
    /// One of many independent streams of a seed.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Chance(rng)
    }

    /// Evenly spread between two ends.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Evenly spread in the logarithm between two positive ends.
    pub fn log_between(&mut self, low: f64, high: f64) -> f64 {
        libm::exp(self.between(libm::log(low), libm::log(high)))
    }

    /// Exponentially distributed waiting time.
    pub fn waiting(&mut self, mean: f64) -> f64 {
        -mean * libm::log(1.0 - self.0.random::<f64>())
    }

    /// Two normal deviates of mean 0 and standard deviation 1 (Box and Muller, Ann. Math. Stat. 29, 1958).
    pub fn normals(&mut self) -> (f64, f64) {
        let radius = libm::sqrt(-2.0 * libm::log(1.0 - self.0.random::<f64>()));
        let (sin, cos) = libm::sincos(TAU * self.0.random::<f64>());
        (radius * cos, radius * sin)
    }

    /// True with a probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// A whole number from 0 up to, not with, `count`.
    pub fn below(&mut self, count: usize) -> usize {
        self.number(count as u64) as usize
    }

    /// As [`Chance::below`], of as many as there may be on any platform.
    pub fn number(&mut self, count: u64) -> u64 {
        assert!(count > 0, "nothing to choose from");
        (self.0.random::<f64>() * count as f64) as u64
    }

    /// One of several.
    pub fn one_of<T: Copy>(&mut self, choices: &[T]) -> T {
        choices[self.below(choices.len())]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_and_stream_give_the_same_numbers() {
        let draw = |stream| {
            let mut chance = Chance::new(7, stream);
            (0..5).map(|_| chance.between(0.0, 1.0)).collect::<Vec<_>>()
        };
        assert_eq!(draw(1), draw(1));
        assert_ne!(draw(1), draw(2));
    }

    #[test]
    fn normal_deviates_have_mean_zero_and_variance_one() {
        let mut chance = Chance::new(1, 0);
        let x: Vec<f64> = (0..20_000)
            .flat_map(|_| <[f64; 2]>::from(chance.normals()))
            .collect();
        let n = x.len() as f64;
        let mean = x.iter().sum::<f64>() / n;
        let variance = x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n;
        assert!(mean.abs() < 0.02, "{mean}");
        assert!((variance - 1.0).abs() < 0.03, "{variance}");
    }
}
