//! Levels and transitions of a waveform after IEEE Std 181: state levels by histogram mode, reference levels in
//! percent of the state difference, interpolated crossings, overshoot, settling.

use crate::stats::order::{LANES, range};

/// Bins of the state-level histogram (the default of the method).
const BINS: usize = 100;
/// Half-width of the refinement, in standard deviations of the noise; at least one bin.
const REFINE_SIGMA: f64 = 2.5;

/// Counts of equal bins between the minimum and the maximum.
pub(crate) struct Histogram {
    low: f64,
    width: f64,
    counts: Vec<usize>,
}

impl Histogram {
    /// Counts the values; `None` for an empty slice.
    pub fn of(values: &[f64], bins: usize) -> Option<Histogram> {
        if values.is_empty() {
            return None;
        }
        // Neighbouring samples fall into the same bin; counting lanes in parallel avoids waiting for each other.
        let (low, high) = range(values);
        let width = (high - low) / bins as f64;
        let a_unit = if width > 0.0 { width.recip() } else { 0.0 };
        let mut counts = vec![[0; LANES]; bins];
        for piece in values.chunks(LANES) {
            for (lane, x) in piece.iter().enumerate() {
                // A float becomes 32 bits in half the time that 64 take.
                let bin = ((x - low) * a_unit) as u32 as usize;
                counts[bin.min(bins - 1)][lane] += 1;
            }
        }
        Some(Histogram {
            low,
            width,
            counts: counts.iter().map(|lanes| lanes.iter().sum()).collect(),
        })
    }

    /// Low and high state level: the centres of the fullest bins of the lower and the upper half of the range
    /// (IEEE Std 181, histogram mode method); centre k (from 0) = min + (k + ½)·(max − min)/bins.
    pub fn levels(&self) -> (f64, f64) {
        let bins = self.counts.len();
        let fullest = |range: std::ops::Range<usize>| {
            let most = range.rev().max_by_key(|&k| self.counts[k]);
            self.low + (most.unwrap_or(0) as f64 + 0.5) * self.width
        };
        (fullest(0..bins / 2), fullest(bins / 2..bins))
    }
}

/// High state level, refined so that the bin width does not matter: the mean of the samples around the modal bin,
/// repeated until it is stable; `None` for an empty slice. `noise` is the standard deviation of the white noise.
pub(crate) fn high_level(values: &[f64], noise: f64) -> Option<f64> {
    let histogram = Histogram::of(values, BINS)?;
    let reach = histogram.width.max(REFINE_SIGMA * noise);
    let (_, mut level) = histogram.levels();
    for _ in 0..50 {
        let next = mean_about(values, level, reach).unwrap_or(level);
        if (next - level).abs() <= 1e-9 * reach {
            return Some(next);
        }
        level = next;
    }
    Some(level)
}

/// Mean of the values within `reach` of a level.
fn mean_about(values: &[f64], level: f64, reach: f64) -> Option<f64> {
    let (mut sums, mut counts) = ([0.0; LANES], [0_u64; LANES]);
    let mut take = |row: &[f64; LANES]| {
        for k in 0..LANES {
            let inside = (row[k] - level).abs() <= reach;
            sums[k] += if inside { row[k] } else { 0.0 };
            counts[k] += u64::from(inside);
        }
    };
    let (rows, rest) = values.as_chunks();
    rows.iter().for_each(&mut take);
    let mut last = [f64::INFINITY; LANES];
    last[..rest.len()].copy_from_slice(rest);
    take(&last);
    let count: u64 = counts.iter().sum();
    (count > 0).then(|| sums.iter().sum::<f64>() / count as f64)
}

/// Instants, in samples, when a rising waveform crosses 10, 50 and 90 % between two states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rise {
    pub t10: f64,
    pub t50: f64,
    pub t90: f64,
}

/// Finds the first rise from one state level to another: the first crossing of 50 %, with the last crossing of 10 %
/// before it and the first of 90 % after it. `None` without a rise.
pub(crate) fn rise(wave: &[f64], from_level: f64, to_level: f64) -> Option<Rise> {
    let level = |part: f64| from_level + part * (to_level - from_level);
    let up = |k: usize, at: f64| wave[k - 1] < at && wave[k] >= at;
    let cross = |k: usize, at: f64| (k - 1) as f64 + (at - wave[k - 1]) / (wave[k] - wave[k - 1]);
    let mid = (1..wave.len()).find(|&k| up(k, level(0.5)))?;
    let low = (1..=mid).rev().find(|&k| up(k, level(0.1)))?;
    let high = (mid..wave.len()).find(|&k| up(k, level(0.9)))?;
    Some(Rise {
        t10: cross(low, level(0.1)),
        t50: cross(mid, level(0.5)),
        t90: cross(high, level(0.9)),
    })
}

/// Post-transition overshoot: the greatest excess over the final state level in percent of the state difference.
pub(crate) fn overshoot_pct(after: &[f64], from_level: f64, to_level: f64) -> f64 {
    let top = after.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (100.0 * (top - to_level) / (to_level - from_level)).max(0.0)
}

/// Returns the first instant, in samples, from which a waveform of this many values, told by how far off its level each is, stays within
/// ±`band` of it for `hold` samples; interpolated at the entry into the band.
pub(crate) fn settled(
    count: usize,
    off: impl Fn(usize) -> f64,
    band: f64,
    hold: usize,
) -> Option<f64> {
    let mut inside_from = 0;
    for k in 0..count {
        if off(k).abs() > band {
            inside_from = k + 1;
        } else if k - inside_from >= hold {
            return Some(entry(&off, band, inside_from));
        }
    }
    None
}

fn entry(off: &impl Fn(usize) -> f64, band: f64, k: usize) -> f64 {
    if k == 0 {
        return 0.0;
    }
    let (outside, inside) = (off(k - 1), off(k));
    let edge = band.copysign(outside);
    (k - 1) as f64 + (edge - outside) / (inside - outside)
}

/// Centred moving mean over `width` samples, which may be fractional (the running sum is interpolated linearly);
/// shorter, but still centred, at the ends.
pub(crate) fn moving_mean(wave: Vec<f64>, width: f64) -> Vec<f64> {
    if width <= 1.0 {
        return wave;
    }
    let mut sums = Vec::with_capacity(wave.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    sums.extend(wave.iter().map(|x| {
        sum += x;
        sum
    }));
    let sum_to = |at: f64| {
        let k = (at as usize).min(wave.len() - 1);
        sums[k] + (at - k as f64) * wave[k]
    };
    let whole = |k: usize| {
        let centre = k as f64 + 0.5;
        let reach = (0.5 * width).min(centre).min(wave.len() as f64 - centre);
        (sum_to(centre + reach) - sum_to(centre - reach)) / (2.0 * reach)
    };
    // Away from the ends the mean reaches equally far on both sides, over whole samples and a fraction of one.
    let edge = (0.5 * width).ceil() as usize + 1;
    if wave.len() <= 2 * edge {
        return (0..wave.len()).map(whole).collect();
    }
    let reach = 0.5 + 0.5 * width;
    let (far, part) = (reach.floor() as usize, reach.fract());
    let last = wave.len() - edge;
    let mut mean: Vec<f64> = (0..edge).map(whole).collect();
    mean.extend((edge..last).map(|k| {
        // From k + 1 − reach to k + reach; the left fraction complements the right one.
        let right = sums[k + far] + part * wave[k + far];
        let left = sums[k + 1 - far] - part * wave[k - far];
        (right - left) / width
    }));
    mean.extend((last..wave.len()).map(whole));
    mean
}

/// Root mean square.
pub(crate) fn rms(wave: &[f64]) -> f64 {
    (wave.iter().map(|x| x * x).sum::<f64>() / wave.len().max(1) as f64).sqrt()
}
