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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_median_lies_in_the_middle_of_many_and_between_two() {
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [7.0, -1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [7.0, -1.0, 2.0, 5.0]), Some(3.5));
        let magnitudes = |values: &[f64]| median_of_magnitudes(values.iter().copied());
        assert_eq!(magnitudes(&[]), None);
        assert_eq!(magnitudes(&[7.0, -1.0, -2.0]), Some(2.0));
        assert_eq!(magnitudes(&[7.0, -1.0, -2.0, 5.0]), Some(3.5));
    }

    #[test]
    fn a_running_median_takes_spikes_and_leaves_edges() {
        let wave = [0.0, 0.0, 9.0, 0.0, 0.0, 5.0, 5.0, 5.0, 5.0];
        let seen = running_median(&wave, 1);
        assert_eq!(seen, [0.0, 0.0, 0.0, 0.0, 0.0, 5.0, 5.0, 5.0, 5.0]);
        // At an end what there is of the neighbours counts; of two, the upper.
        assert_eq!(running_median(&[1.0, 2.0, 0.0], 1), [2.0, 1.0, 2.0]);
    }

    /// White noise of 1, on a slope and over a step: 1 to a few percent (the normal's MAD is 1/1.4826 of its deviation).
    #[test]
    fn noise_is_told_on_a_slope_and_over_a_step() {
        let mut chance = crate::demo::Chance::new(6, 0);
        let wave: Vec<f64> = (0..20_000)
            .map(|k| {
                let step = if k < 9000 { 0.0 } else { 500.0 };
                chance.normals().0 + 0.3 * f64::from(k) + step
            })
            .collect();
        let seen = noise(&wave);
        assert!((seen - 1.0).abs() < 0.03, "{seen}");
    }
}
