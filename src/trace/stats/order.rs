//! Order statistics: range, median, median absolute deviation.

use crate::stats::Interval;
use crate::stats::dist::binomial_cdf;

/// Values processed in parallel lanes, so that the compiler vectorises.
pub(crate) const LANES: usize = 8;

/// Smallest and largest value; infinite, the wrong way round, without any.
pub fn range(values: &[f64]) -> (f64, f64) {
    let (mut low, mut high) = ([f64::INFINITY; LANES], [f64::NEG_INFINITY; LANES]);
    let mut take = |row: &[f64; LANES]| {
        for k in 0..LANES {
            low[k] = if row[k] < low[k] { row[k] } else { low[k] };
            high[k] = if row[k] > high[k] { row[k] } else { high[k] };
        }
    };
    let (rows, rest) = values.as_chunks();
    rows.iter().for_each(&mut take);
    // Pad a short row with a value that is already in it.
    rest.iter().for_each(|x| take(&[*x; LANES]));
    (
        low.into_iter().fold(f64::INFINITY, f64::min),
        high.into_iter().fold(f64::NEG_INFINITY, f64::max),
    )
}

/// Median; `None` for an empty slice. Reorders its input.
pub(crate) fn median_in_place(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    (n > 0).then(|| between_places(values, (n - 1) / 2, n / 2))
}

/// The value at a part of the order, 0 to 1; `None` of nothing. Reorders its input.
pub fn part_in_place(values: &mut [f64], part: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let at = (part * last as f64).round() as usize;
    Some(between_places(values, at, at))
}

/// Mean of the values at two neighbouring ranks, or the value at a single one.
fn between_places(values: &mut [f64], lower: usize, upper: usize) -> f64 {
    let (below, &mut upper_value, _) = values.select_nth_unstable_by(upper, f64::total_cmp);
    if lower == upper {
        return upper_value;
    }
    let lower_value = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    0.5 * (lower_value + upper_value)
}

/// Maps floats to integers in the same order: those are told apart faster.
pub(crate) fn ordered(x: f64) -> u64 {
    let bits = x.to_bits();
    if bits & SIGN == 0 { bits | SIGN } else { !bits }
}

/// The float that [`ordered`] made the integer of.
pub(crate) fn unordered(key: u64) -> f64 {
    f64::from_bits(if key & SIGN == 0 { !key } else { key ^ SIGN })
}

const SIGN: u64 = 1 << 63;

/// Running median over each value and up to `reach` neighbours on either side: removes spikes of up to `reach` values
/// and keeps edges in place. With an even number of values at an end, the upper of the middle two.
pub(crate) fn running_median(values: &[f64], reach: usize) -> Vec<f64> {
    // The values around the current one, in order.
    let mut about: Vec<f64> = Vec::with_capacity(2 * reach + 1);
    (0..values.len() + reach)
        .filter_map(|k| {
            let coming = values.get(k);
            let going = k.checked_sub(2 * reach + 1).map(|k| values[k]);
            let place = going.and_then(|x| about.iter().position(|y| *y == x));
            match (place, coming) {
                (Some(at), Some(&x)) => {
                    about[at] = x;
                    sift(&mut about, at);
                }
                (Some(at), None) => _ = about.remove(at),
                (None, Some(&x)) => {
                    let at = about.len();
                    about.push(x);
                    sift(&mut about, at);
                }
                (None, None) => {}
            }
            (k >= reach).then(|| about[about.len() / 2])
        })
        .collect()
}

/// Moves one value to its place in an otherwise sorted slice.
fn sift(ordered: &mut [f64], mut at: usize) {
    while at > 0 && ordered[at - 1] > ordered[at] {
        ordered.swap(at - 1, at);
        at -= 1;
    }
    while at + 1 < ordered.len() && ordered[at + 1] < ordered[at] {
        ordered.swap(at, at + 1);
        at += 1;
    }
}

/// Below this number of values, [`median`] sorts directly.
const SEVERAL: usize = 512;
/// From this number of values on a larger sample pays.
const MANY: usize = 4096;
/// Sizes of the sample that brackets the median, each with the number of its values on either side of the bracket: three and
/// three and a half standard deviations of the median's rank in such a sample.
const SMALL: (usize, usize) = (64, 12);
const LARGE: (usize, usize) = (1024, 56);

/// Median of magnitudes; `None` for an empty slice.
pub(crate) fn median_of_magnitudes(values: &[f64]) -> Option<f64> {
    median_by(values, |x| x.abs())
}

/// Median of a function of the values; `None` for an empty slice.
pub(crate) fn median_by(values: &[f64], of: impl Fn(f64) -> f64 + Copy) -> Option<f64> {
    bracketed_median(values, of)
        .or_else(|| median_in_place(&mut values.iter().map(|x| of(*x)).collect::<Vec<_>>()))
}

/// [`median_by`] for many values: keeps and sorts only what lies between two values of a sample. `None` if the median
/// is not among them.
fn bracketed_median(values: &[f64], of: impl Fn(f64) -> f64) -> Option<f64> {
    let n = values.len();
    if n < SEVERAL {
        return None;
    }
    let (size, reach) = if n < MANY { SMALL } else { LARGE };
    let key = |x: &f64| ordered(of(*x));
    let mut sample: Vec<u64> = values.iter().step_by(n / size).map(key).collect();
    let middle = sample.len() / 2;
    let (_, &mut low, above) = sample.select_nth_unstable(middle - reach);
    let (_, &mut high, _) = above.select_nth_unstable(2 * reach - 1);
    let (mut below, mut between) = (0, Vec::with_capacity(n / 2));
    // In pieces and without a branch, because no predictor can foresee which values are kept.
    let mut kept = [0; 256];
    for piece in values.chunks(kept.len()) {
        let mut count = 0;
        for x in piece.iter().map(key) {
            kept[count] = x;
            // One comparison for both ends: what is under the lower one wraps to far over the upper.
            count += usize::from(x.wrapping_sub(low) <= high - low);
            below += usize::from(x < low);
        }
        between.extend_from_slice(&kept[..count]);
    }
    let lower = ((n - 1) / 2).checked_sub(below)?;
    let upper = n / 2 - below;
    if upper >= between.len() {
        return None;
    }
    let (less, &mut above, _) = between.select_nth_unstable(upper);
    let under = less.iter().max().filter(|_| lower < upper);
    Some(0.5 * (unordered(*under.unwrap_or(&above)) + unordered(above)))
}

/// Number of second differences for the noise estimate: their median is accurate to 1.3 %.
const BENDS: usize = 8192;

/// White-noise standard deviation of a moving trace: 1.4826 × MAD of its second differences / √6, at evenly spaced
/// places. A straight line leaves nothing there, and a few jumps do not move a median.
pub(crate) fn noise(trace: &[f64]) -> f64 {
    let bends = (2..trace.len()).step_by((trace.len() / BENDS).max(1));
    let bends: Vec<f64> = bends
        .map(|k| trace[k - 2] - 2.0 * trace[k - 1] + trace[k])
        .collect();
    median_of_magnitudes(&bends).unwrap_or(0.0) * 1.4826 / 6f64.sqrt()
}

/// Median; `None` for an empty slice.
pub fn median(values: &[f64]) -> Option<f64> {
    median_in_place(&mut values.to_vec())
}

/// Distribution-free interval of the median from order statistics: the widest ranks k from each end with P(X < k) ≤
/// (1 − level)/2 for X binomial at ½ (Conover, Practical Nonparametric Statistics, 3.2). `None` if there are too few
/// values for a bound (under 6 at 0.95).
pub fn median_interval(values: &[f64], level: f64) -> Option<Interval> {
    let n = values.len() as u64;
    let tail = (1.0 - level) / 2.0;
    // The distribution rises, so halving finds the last rank that leaves enough outside.
    let (mut cut, mut past) = (0, n / 2 + 1);
    while cut + 1 < past {
        let k = cut.midpoint(past);
        match binomial_cdf(k - 1, n, 0.5) <= tail {
            true => cut = k,
            false => past = k,
        }
    }
    let cut = (cut > 0).then_some(cut)? as usize;
    let (mut values, upper) = (values.to_vec(), values.len() - cut);
    let (below, &mut hi, _) = values.select_nth_unstable_by(upper, f64::total_cmp);
    // Half of the values at the most are cut at each end.
    let (_, &mut lo, _) = below.select_nth_unstable_by(cut - 1, f64::total_cmp);
    Some(Interval { lo, hi })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_median_lies_in_the_middle_of_many_and_between_two() {
        assert_eq!(median_in_place(&mut []), None);
        assert_eq!(median_in_place(&mut [7.0, -1.0, 2.0]), Some(2.0));
        assert_eq!(median_in_place(&mut [7.0, -1.0, 2.0, 5.0]), Some(3.5));
        let magnitudes = |values: &[f64]| median_of_magnitudes(values);
        assert_eq!(magnitudes(&[]), None);
        assert_eq!(magnitudes(&[7.0, -1.0, -2.0]), Some(2.0));
        assert_eq!(magnitudes(&[7.0, -1.0, -2.0, 5.0]), Some(3.5));
    }

    /// Compares with the median by sorting, for noise, a slope, a square wave, a constant, and spikes where the
    /// sample looks.
    #[test]
    fn the_median_of_many_is_that_of_all_in_order() {
        let mut chance = tipstrike_demo::Chance::new(8, 0);
        for n in [SEVERAL, SEVERAL + 1, MANY, MANY + 1, 20_000, 20_001] {
            let size = if n < MANY { SMALL.0 } else { LARGE.0 };
            let waves: [Vec<f64>; 5] = [
                (0..n).map(|_| chance.normals().0).collect(),
                (0..n).map(|k| -0.1 * k as f64).collect(),
                (0..n)
                    .map(|k| if k % 100 < 49 { 3.0 } else { -8.0 })
                    .collect(),
                vec![2.5; n],
                (0..n)
                    .map(|k| if k % (n / size) == 0 { 1e6 } else { k as f64 })
                    .collect(),
            ];
            for (at, wave) in waves.iter().enumerate() {
                let mut all: Vec<f64> = wave.iter().map(|x| x.abs()).collect();
                assert_eq!(
                    median_of_magnitudes(wave),
                    median_in_place(&mut all),
                    "{n}, wave {at}"
                );
                assert_eq!(
                    bracketed_median(wave, f64::abs).is_some(),
                    at != 4,
                    "{n}, wave {at}"
                );
            }
        }
        assert_eq!(bracketed_median(&[1.0; SEVERAL - 1], f64::abs), None);
    }

    #[test]
    fn a_running_median_takes_spikes_and_leaves_edges() {
        let wave = [0.0, 0.0, 9.0, 0.0, 0.0, 5.0, 5.0, 5.0, 5.0];
        let seen = running_median(&wave, 1);
        assert_eq!(seen, [0.0, 0.0, 0.0, 0.0, 0.0, 5.0, 5.0, 5.0, 5.0]);
        // At the ends, only existing neighbours count; of two values the upper.
        assert_eq!(running_median(&[1.0, 2.0, 0.0], 1), [2.0, 1.0, 2.0]);
        assert_eq!(running_median(&[1.0, 2.0], 4), [2.0, 2.0]);
        assert!(running_median(&[], 4).is_empty());
        let mut chance = tipstrike_demo::Chance::new(2, 0);
        let wave: Vec<f64> = (0..300).map(|_| chance.normals().0.round()).collect();
        for (k, seen) in running_median(&wave, 4).into_iter().enumerate() {
            let mut about = wave[k.saturating_sub(4)..(k + 5).min(300)].to_vec();
            about.sort_by(f64::total_cmp);
            assert_eq!(seen, about[about.len() / 2], "{k}");
        }
    }

    /// White noise of 1 on a slope and over a step gives 1 to a few percent (the MAD of a normal distribution is
    /// 1/1.4826 of its deviation).
    #[test]
    fn noise_is_told_on_a_slope_and_over_a_step() {
        let mut chance = tipstrike_demo::Chance::new(6, 0);
        let wave: Vec<f64> = (0..20_000)
            .map(|k| {
                let step = if k < 9000 { 0.0 } else { 500.0 };
                chance.normals().0 + 0.3 * f64::from(k) + step
            })
            .collect();
        let seen = noise(&wave);
        assert!((seen - 1.0).abs() < 0.03, "{seen}");
    }

    #[test]
    fn the_median_is_bounded_by_the_tabled_ranks() {
        for (n, low, high) in [(6, 1, 6), (10, 2, 9), (20, 6, 15), (30, 10, 21)] {
            let values: Vec<f64> = (1..=n).rev().map(f64::from).collect();
            let interval = median_interval(&values, 0.95).unwrap();
            assert_eq!(
                (interval.lo, interval.hi),
                (f64::from(low), f64::from(high)),
                "n = {n}"
            );
        }
        assert_eq!(median_interval(&[1.0, 2.0, 3.0, 4.0, 5.0], 0.95), None);
        assert_eq!(median_interval(&[], 0.95), None);
    }
}
