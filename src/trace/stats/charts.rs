//! Control charts for single values in order.

use crate::stats::Interval;

/// d₂ for moving ranges of two, as tabled: mean range of two standard normal values.
const D2: f64 = 1.128;

/// Limits of an individuals chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Individuals {
    /// Mean of the values.
    pub centre: f64,
    /// Standard deviation inside the process: mean moving range / 1.128.
    pub sigma: f64,
    /// centre ± 3 sigma, which is ± 2.66 mean moving ranges.
    pub limits: Interval,
}

/// Individuals chart from moving ranges of two (NIST/SEMATECH e-Handbook 6.3.2.2).
/// `None` with fewer than two values.
pub fn individuals(values: &[f64]) -> Option<Individuals> {
    if values.len() < 2 {
        return None;
    }
    let centre = values.iter().sum::<f64>() / values.len() as f64;
    let ranges: f64 = values.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
    let sigma = ranges / (values.len() - 1) as f64 / D2;
    Some(Individuals {
        centre,
        sigma,
        limits: Interval {
            lo: centre - 3.0 * sigma,
            hi: centre + 3.0 * sigma,
        },
    })
}

/// Exponentially weighted moving averages after each value, starting from `centre`
/// (NIST/SEMATECH e-Handbook 6.3.2.4).
pub fn ewma(values: &[f64], centre: f64, lambda: f64) -> Vec<f64> {
    values
        .iter()
        .scan(centre, |average, x| {
            *average = lambda * x + (1.0 - lambda) * *average;
            Some(*average)
        })
        .collect()
}

/// Half-width of the EWMA limits: 3 sigma of the average after `count` values, or, where `None`,
/// of the average that has run for long.
pub fn ewma_half_width(sigma: f64, lambda: f64, count: Option<usize>) -> f64 {
    let reached = count.map_or(1.0, |n| 1.0 - libm::pow(1.0 - lambda, 2.0 * n as f64));
    3.0 * sigma * (lambda / (2.0 - lambda) * reached).sqrt()
}
