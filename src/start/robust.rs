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

/// The median of each value and `reach` neighbours to either side, as far as there are: spikes of up to `reach` values go,
/// edges stay where they are.
pub(crate) fn running_median(values: &[f64], reach: usize) -> Vec<f64> {
    let mut about = Vec::with_capacity(2 * reach + 1);
    (0..values.len())
        .map(|k| {
            about.clear();
            about.extend_from_slice(
                &values[k.saturating_sub(reach)..(k + reach + 1).min(values.len())],
            );
            let middle = about.len() / 2;
            *about.select_nth_unstable_by(middle, f64::total_cmp).1
        })
        .collect()
}

/// The median of magnitudes; `None` of nothing. Numbers that are not negative are in the order of their bits, which sort faster.
pub(crate) fn median_of_magnitudes(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut bits: Vec<u64> = values.map(|x| x.abs().to_bits()).collect();
    let n = bits.len();
    if n == 0 {
        return None;
    }
    let (below, &mut upper, _) = bits.select_nth_unstable(n / 2);
    let upper = f64::from_bits(upper);
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().max().map(f64::from_bits)?;
    Some(0.5 * (lower + upper))
}

/// White-noise standard deviation of a trace that also moves: 1.4826 × MAD of its second differences / √6. A straight line
/// leaves nothing there, a few jumps do not move a median.
pub(crate) fn noise(trace: &[f64]) -> f64 {
    let bends = trace.windows(3).map(|w| w[0] - 2.0 * w[1] + w[2]);
    median_of_magnitudes(bends).unwrap_or(0.0) * 1.4826 / 6f64.sqrt()
}
