//! Minimum, maximum and mean of raw samples, written for automatic vectorisation, and decoding.
//!
//! Samples are processed in rows of as many lanes as make complete frames. Each lane keeps its own extremes and sum,
//! and the lanes of a channel are combined at the end. Integer sums are exact, so the division into rows does not
//! change the result.

use crate::recording::source::Stat;
use crate::recording::wav::header::Coding;

/// A sample as stored in the file.
trait Sample<const BYTES: usize> {
    /// Raw value with an order.
    type Value: Copy + PartialOrd;
    /// Sum over one lane of at most [`ROWS`] values.
    type Sum: Copy + Default + std::ops::AddAssign;
    /// Raw value at full scale.
    const FULL: f64;
    fn value(bytes: [u8; BYTES]) -> Self::Value;
    fn sum(value: Self::Value) -> Self::Sum;
    fn total(sum: Self::Sum) -> f64;
    fn number(value: Self::Value) -> f64;
}

/// Rows after which sums are flushed: 2¹⁵ 16-bit values still fit 32 bits.
const ROWS: usize = 1 << 15;

macro_rules! sample {
    ($name:ident, $bytes:literal, $value:ty, $sum:ty, $full:expr, $read:expr) => {
        struct $name;
        impl Sample<$bytes> for $name {
            type Value = $value;
            type Sum = $sum;
            const FULL: f64 = $full;
            #[inline(always)]
            fn value(bytes: [u8; $bytes]) -> $value {
                $read(bytes)
            }
            #[inline(always)]
            fn sum(value: $value) -> $sum {
                <$sum>::from(value)
            }
            #[inline(always)]
            fn total(sum: $sum) -> f64 {
                sum as f64
            }
            #[inline(always)]
            fn number(value: $value) -> f64 {
                f64::from(value)
            }
        }
    };
}

sample!(U8, 1, i16, i32, 128.0, |[b]: [u8; 1]| i16::from(b) - 128);
sample!(I16, 2, i16, i32, 32_768.0, i16::from_le_bytes);
sample!(
    I24,
    3,
    i32,
    i64,
    8_388_608.0,
    |[a, b, c]: [u8; 3]| i32::from_le_bytes([0, a, b, c]) >> 8
);
sample!(I32, 4, i32, i64, 2_147_483_648.0, i32::from_le_bytes);
sample!(F32, 4, f32, f64, 1.0, f32::from_le_bytes);

/// Returns statistics of the wanted channels as fractions of full scale; `bytes` are complete frames, at least one.
pub(super) fn stats(
    bytes: &[u8],
    coding: Coding,
    channels: usize,
    wanted: [Option<usize>; 2],
) -> [Stat; 2] {
    match coding {
        Coding::U8 => by_channels::<1, U8>(bytes, channels, wanted),
        Coding::I16 => by_channels::<2, I16>(bytes, channels, wanted),
        Coding::I24 => by_channels::<3, I24>(bytes, channels, wanted),
        Coding::I32 => by_channels::<4, I32>(bytes, channels, wanted),
        Coding::F32 => by_channels::<4, F32>(bytes, channels, wanted),
    }
}

fn by_channels<const B: usize, S: Sample<B>>(
    bytes: &[u8],
    channels: usize,
    wanted: [Option<usize>; 2],
) -> [Stat; 2] {
    let (samples, _) = bytes.as_chunks::<B>();
    match channels {
        1 | 2 | 4 | 8 => in_lanes::<B, S, 16>(samples, channels, wanted),
        3 | 6 => in_lanes::<B, S, 12>(samples, channels, wanted),
        5 => in_lanes::<B, S, 20>(samples, channels, wanted),
        _ => in_lanes::<B, S, 28>(samples, channels, wanted),
    }
}

fn in_lanes<const B: usize, S: Sample<B>, const LANES: usize>(
    samples: &[[u8; B]],
    channels: usize,
    wanted: [Option<usize>; 2],
) -> [Stat; 2] {
    let start: [S::Value; LANES] = std::array::from_fn(|k| S::value(samples[k % channels]));
    let (mut min, mut max, mut totals) = (start, start, [0.0; LANES]);
    let (rows, rest) = samples.as_chunks::<LANES>();
    for rows in rows.chunks(ROWS) {
        let mut sums = [S::Sum::default(); LANES];
        for row in rows {
            for k in 0..LANES {
                let value = S::value(row[k]);
                min[k] = if value < min[k] { value } else { min[k] };
                max[k] = if value > max[k] { value } else { max[k] };
                sums[k] += S::sum(value);
            }
        }
        totals
            .iter_mut()
            .zip(sums)
            .for_each(|(total, sum)| *total += S::total(sum));
    }
    for (k, &sample) in rest.iter().enumerate() {
        let value = S::value(sample);
        min[k] = if value < min[k] { value } else { min[k] };
        max[k] = if value > max[k] { value } else { max[k] };
        totals[k] += S::number(value);
    }
    let frames = (samples.len() / channels) as f64;
    wanted.map(|channel| {
        let Some(channel) = channel else {
            return Stat::default();
        };
        let lanes = || (channel..LANES).step_by(channels);
        Stat {
            min: lanes()
                .map(|k| S::number(min[k]))
                .fold(f64::INFINITY, f64::min)
                / S::FULL,
            max: lanes()
                .map(|k| S::number(max[k]))
                .fold(f64::NEG_INFINITY, f64::max)
                / S::FULL,
            mean: lanes().map(|k| totals[k]).sum::<f64>() / frames / S::FULL,
        }
    })
}

/// Appends one channel of complete frames as fractions of full scale.
pub(crate) fn decode(
    bytes: &[u8],
    coding: Coding,
    channels: usize,
    channel: usize,
    to: &mut Vec<f64>,
) {
    match coding {
        Coding::U8 => channel_of::<1, U8>(bytes, channels, channel, to),
        Coding::I16 => channel_of::<2, I16>(bytes, channels, channel, to),
        Coding::I24 => channel_of::<3, I24>(bytes, channels, channel, to),
        Coding::I32 => channel_of::<4, I32>(bytes, channels, channel, to),
        Coding::F32 => channel_of::<4, F32>(bytes, channels, channel, to),
    }
}

fn channel_of<const B: usize, S: Sample<B>>(
    bytes: &[u8],
    channels: usize,
    channel: usize,
    to: &mut Vec<f64>,
) {
    let (samples, _) = bytes.as_chunks::<B>();
    let number = |sample: [u8; B]| S::number(S::value(sample)) / S::FULL;
    // Of a fixed number of channels the compiler decodes several frames at once; two are the rule.
    if channels == 2 {
        let (frames, _) = samples.as_chunks::<2>();
        to.extend(frames.iter().map(|frame| number(frame[channel])));
    } else {
        let frames = samples.chunks_exact(channels);
        to.extend(frames.map(|frame| number(frame[channel])));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Straightforward reference implementation.
    fn slow(bytes: &[u8], coding: Coding, channels: usize, channel: usize) -> Stat {
        let mut values = Vec::new();
        decode(bytes, coding, channels, channel, &mut values);
        let mut stat = Stat::of(&values);
        stat.mean = values.iter().sum::<f64>() / values.len() as f64;
        stat
    }

    #[test]
    fn lanes_and_the_obvious_loop_agree_for_every_coding_and_channel_count() {
        let mut state = 7_u32;
        let mut byte = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 24) as u8
        };
        for coding in [Coding::U8, Coding::I16, Coding::I24, Coding::I32] {
            for channels in 1..=8 {
                for frames in [1, 2, 31, 500] {
                    let bytes: Vec<u8> = (0..frames * channels * coding.bytes())
                        .map(|_| byte())
                        .collect();
                    for channel in 0..channels {
                        let [fast, _] = stats(&bytes, coding, channels, [Some(channel), None]);
                        let slow = slow(&bytes, coding, channels, channel);
                        assert_eq!((fast.min, fast.max), (slow.min, slow.max));
                        assert!(
                            (fast.mean - slow.mean).abs() < 1e-12,
                            "{coding:?} {channels}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn the_ends_of_each_coding_are_minus_one_and_just_under_one() {
        let mut values = Vec::new();
        decode(&[0, 255], Coding::U8, 1, 0, &mut values);
        decode(&[0, 0x80, 0xff, 0x7f], Coding::I16, 1, 0, &mut values);
        decode(
            &[0, 0, 0x80, 0xff, 0xff, 0x7f],
            Coding::I24,
            1,
            0,
            &mut values,
        );
        let expected = [
            -1.0,
            127.0 / 128.0,
            -1.0,
            32_767.0 / 32_768.0,
            -1.0,
            8_388_607.0 / 8_388_608.0,
        ];
        assert_eq!(values, expected);
    }
}
