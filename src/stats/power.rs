//! How many values it takes, and what a number of values can show.

use crate::stats::dist::{normal_cdf, normal_quantile, two_sided_z};

/// Size of each of two samples to see rates p₁ and p₂ differ, two-sided, by the normal approximation
/// with pooled variance under the null (Fleiss, without continuity correction). Not rounded.
pub fn rates_size(p1: f64, p2: f64, level: f64, power: f64) -> f64 {
    let (pooled, apart) = rate_spreads(p1, p2);
    ((two_sided_z(level) * pooled + normal_quantile(power) * apart) / (p1 - p2)).powi(2)
}

/// Power of `n` in each of two samples to see rates p₁ and p₂ differ, by the same approximation.
pub fn rates_power(n: f64, p1: f64, p2: f64, level: f64) -> f64 {
    let (pooled, apart) = rate_spreads(p1, p2);
    normal_cdf((n.sqrt() * (p1 - p2).abs() - two_sided_z(level) * pooled) / apart)
}

/// √(2p̄q̄) under the null and √(p₁q₁ + p₂q₂) apart from it.
fn rate_spreads(p1: f64, p2: f64) -> (f64, f64) {
    let mean = 0.5 * (p1 + p2);
    (
        (2.0 * mean * (1.0 - mean)).sqrt(),
        (p1 * (1.0 - p1) + p2 * (1.0 - p2)).sqrt(),
    )
}

/// Size of each of two samples to see an effect by the rank test, two-sided, from Cliff's delta
/// (Noether 1987, "Sample size determination for some common nonparametric tests", equal samples;
/// his P(b > a) is (1 + delta)/2). Not rounded; infinite where delta is 0.
pub fn rank_size(delta: f64, level: f64, power: f64) -> f64 {
    let z = two_sided_z(level) + normal_quantile(power);
    2.0 * z * z / (3.0 * delta * delta)
}

/// Cliff's delta of two normal samples whose means lie `shift` apart, each with deviation `sd`.
pub fn normal_delta(shift: f64, sd: f64) -> f64 {
    2.0 * normal_cdf(shift / (sd * std::f64::consts::SQRT_2)) - 1.0
}

/// Size at which an interval of this half-width at `size` values shrinks to `wanted`: half-widths
/// fall with the root of the size. Not rounded.
pub fn width_size(half_width: f64, size: f64, wanted: f64) -> f64 {
    size * (half_width / wanted).powi(2)
}
