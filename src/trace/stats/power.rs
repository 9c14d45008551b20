//! How many values it takes, and what a number of values can show.

use crate::stats::dist::{chi_squared_quantile, normal_cdf, normal_quantile, two_sided_z};

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

/// Tips of each of two grinds to see a shift, two-sided, from the variance of the tips' values:
/// the normal approximation plus what it costs to estimate the spread from them, z²/4 (Guenther 1981)
/// and a half, 1.5 at 95 %. Rounded up it is the exact number of the t test or one more, at every
/// level from 95 to 99.5 % (tests/reference/wear.py). Not rounded.
pub fn tips_size(variance: f64, shift: f64, level: f64, power: f64) -> f64 {
    let z = two_sided_z(level) + normal_quantile(power);
    2.0 * z * z * variance / (shift * shift) + few_tips(level)
}

/// The shift that this many tips of each of two grinds show with this power: [`tips_size`] solved for it. `None` of too few
/// tips, which show none.
pub fn tips_shift_seen(variance: f64, tips: f64, level: f64, power: f64) -> Option<f64> {
    let counted = tips - few_tips(level);
    let z = two_sided_z(level) + normal_quantile(power);
    (counted > 0.0).then(|| z * (2.0 * variance / counted).sqrt())
}

fn few_tips(level: f64) -> f64 {
    two_sided_z(level).powi(2) / 4.0 + 0.5
}

/// Tips of each of two grinds, rounded up, that a spread known from a few tips asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TipsNeeded {
    /// If the true spread is at the lower end of its 80 % interval.
    pub lo: usize,
    /// Enough in 80 of 100 cases: the number to plan with.
    pub enough: usize,
    /// If the true spread is at the upper end of its 80 % interval.
    pub hi: usize,
}

/// [`tips_size`] where the variance comes from tips with `df` degrees of freedom: the plug-in number
/// would be too small in every other case, so the χ² interval of the variance is carried along.
pub fn tips_needed(variance: f64, df: f64, shift: f64, level: f64, power: f64) -> TipsNeeded {
    let size = |chance: f64| {
        let high = variance_bound(variance, df, chance);
        tips_size(high, shift, level, power).ceil() as usize
    };
    TipsNeeded {
        lo: size(0.9),
        enough: size(0.2),
        hi: size(0.1),
    }
}

/// The variance that a true one is larger than with this chance, one being estimated on `df` degrees
/// of freedom from normal values (χ²).
pub fn variance_bound(variance: f64, df: f64, chance: f64) -> f64 {
    variance * df / chi_squared_quantile(chance, df)
}
