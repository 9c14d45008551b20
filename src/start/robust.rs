//! Order statistics: median, median absolute deviation, quantiles.

/// The median; `None` of nothing. Reorders its input.
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 {
        return None;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(0.5 * (lower + upper))
}

/// White-noise standard deviation of a trace that also moves slowly: 1.4826 × MAD of its first differences / √2.
pub(crate) fn noise(trace: &[f64]) -> f64 {
    let mut steps: Vec<f64> = trace.windows(2).map(|w| (w[1] - w[0]).abs()).collect();
    median(&mut steps).unwrap_or(0.0) * 1.4826 / std::f64::consts::SQRT_2
}
