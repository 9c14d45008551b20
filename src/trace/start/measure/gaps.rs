//! Fills gaps in an even trace by continuing the strongest spectral lines of the rest through them.

use rustfft::FftDirection::Forward;
use rustfft::num_complex::Complex;

use crate::start::measure::spectrum::{fitted, peak, transform};

/// A line is continued if it explains this fraction of the power left by the lines before it.
const WORTH: f64 = 0.15;
/// Maximum number of lines.
const MOST: usize = 8;
/// Resolution of the spectrum used to find lines, relative to the trace's own.
const FINER: usize = 4;

/// A sinusoid: phase step between samples, rad, and its amplitudes.
struct SpectralLine {
    turn: f64,
    cos: f64,
    sin: f64,
}

/// Fills the gaps of a trace (about zero) with the lines found in the rest, and with straight lines between the
/// residuals. Returns the fraction of the power that is still missing: between straight lines, noise has almost none.
pub(crate) fn fill(trace: &mut [f64], left_out: &[bool]) -> f64 {
    let kept: Vec<usize> = (0..trace.len()).filter(|k| !left_out[*k]).collect();
    if kept.len() == trace.len() || kept.is_empty() {
        return 0.0;
    }
    let mut rest = vec![0.0; trace.len()];
    kept.iter().for_each(|&k| rest[k] = trace[k]);
    let power = |x: &[f64]| x.iter().map(|v| v * v).sum::<f64>();
    let whole = power(&rest).max(f64::MIN_POSITIVE);
    let mut lines = vec![0.0; trace.len()];
    for _ in 0..MOST {
        let Some(line) = strongest(&rest, &kept) else {
            break;
        };
        let mut less = rest.clone();
        kept.iter().for_each(|&k| less[k] -= line.at(k));
        if power(&less) > (1.0 - WORTH) * power(&rest) {
            break;
        }
        rest = less;
        (0..lines.len()).for_each(|k| lines[k] += line.at(k));
    }
    let unexplained = power(&rest) / whole;
    straighten(&mut rest, left_out);
    for (x, (line, rest)) in trace.iter_mut().zip(lines.iter().zip(&rest)) {
        *x = line + rest;
    }
    unexplained * (1.0 - kept.len() as f64 / trace.len() as f64)
}

impl SpectralLine {
    fn at(&self, k: usize) -> f64 {
        let (sin, cos) = (self.turn * k as f64).sin_cos();
        self.cos * cos + self.sin * sin
    }
}

/// Finds the line that explains most, by the peak of the spectrum and least squares over the samples kept.
fn strongest(rest: &[f64], kept: &[usize]) -> Option<SpectralLine> {
    let size = (FINER * rest.len()).next_power_of_two();
    let mut bins: Vec<Complex<f64>> = rest.iter().map(|x| Complex::new(*x, 0.0)).collect();
    bins.resize(size, Complex::default());
    transform(size, Forward).process(&mut bins);
    let height: Vec<f64> = bins[..=size / 2].iter().map(|b| b.norm()).collect();
    // One period over the whole trace is drift.
    let slowest = size / rest.len() + 1;
    let top = (slowest..height.len() - 1).max_by(|a, b| height[*a].total_cmp(&height[*b]))?;
    let turn = std::f64::consts::TAU * peak(&height, top) / size as f64;
    let (mut cc, mut ss, mut cs, mut xc, mut xs) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for &k in kept {
        let (sin, cos) = (turn * k as f64).sin_cos();
        (cc, ss, cs) = (cc + cos * cos, ss + sin * sin, cs + cos * sin);
        (xc, xs) = (xc + rest[k] * cos, xs + rest[k] * sin);
    }
    let [cos, sin] = fitted([xc, xs], [cc, ss, cs])?;
    Some(SpectralLine { turn, cos, sin })
}

/// Interpolates linearly across the gaps; at an end, repeats the nearest value.
pub(crate) fn straighten(trace: &mut [f64], left_out: &[bool]) {
    let mut k = 0;
    while k < trace.len() {
        if !left_out[k] {
            k += 1;
            continue;
        }
        let end = (k..trace.len())
            .find(|j| !left_out[*j])
            .unwrap_or(trace.len());
        let after = trace.get(end).copied();
        let before = k.checked_sub(1).map(|j| trace[j]);
        let (a, b) = (
            before.or(after).unwrap_or(0.0),
            after.or(before).unwrap_or(0.0),
        );
        let steps = (end - k + 1) as f64;
        for (j, x) in trace[k..end].iter_mut().enumerate() {
            *x = a + (b - a) * (j + 1) as f64 / steps;
        }
        k = end;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: f64 = 400.0;

    /// Hides `part` of the values in gaps of 40 ms.
    fn gaps(count: usize, part: f64) -> Vec<bool> {
        let period = (16.0 / part) as usize;
        (0..count).map(|k| k % period >= period - 16).collect()
    }

    #[test]
    fn tones_are_carried_through_gaps() {
        // Identity: the sum of two sinusoids is known where it is hidden.
        let tone = |k: usize| {
            let turn = std::f64::consts::TAU * k as f64 / RATE;
            0.3 * (4.3 * turn).sin() + 0.2 * (23.7 * turn).cos()
        };
        let out = gaps(400, 0.2);
        let mut trace: Vec<f64> = (0..400).map(tone).collect();
        (0..400).filter(|k| out[*k]).for_each(|k| trace[k] = 9.9);
        let missing = fill(&mut trace, &out);
        let worst = (0..400)
            .map(|k| (trace[k] - tone(k)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 0.05 && missing < 0.01, "{worst}, {missing}");
        // Without gaps nothing changes, to the bit.
        let whole = trace.clone();
        assert_eq!(fill(&mut trace, &[false; 400]), 0.0);
        assert_eq!(trace, whole);
    }

    /// Least squares: the residual of a line is orthogonal to its cosine and sine over the samples kept.
    #[test]
    fn a_line_is_the_least_squares_of_what_is_kept() {
        let value = |k: usize| (k as f64 * 0.31 + 0.6).sin() + 0.1 * ((k * k * 7) % 31) as f64;
        let kept: Vec<usize> = (0..90).filter(|k| k % 10 < 7).collect();
        let mut rest = vec![0.0; 90];
        kept.iter().for_each(|&k| rest[k] = value(k));
        let line = strongest(&rest, &kept).unwrap();
        let sum = |of: &dyn Fn(f64) -> f64| -> f64 {
            let left = |k: &usize| (rest[*k] - line.at(*k)) * of(line.turn * *k as f64);
            kept.iter().map(left).sum()
        };
        let (cos, sin) = (sum(&f64::cos), sum(&f64::sin));
        assert!(cos.abs() < 1e-9 && sin.abs() < 1e-9, "{cos} {sin}");
        assert!((line.turn - 0.31).abs() < 0.001, "{}", line.turn);
    }

    /// With three of four values missing, a line that explains all of them is continued; one period over the whole
    /// trace is drift and is not searched for.
    #[test]
    fn a_slow_bend_is_bridged_by_straight_lines() {
        let bend = |k: usize| (std::f64::consts::TAU * k as f64 / 400.0).sin();
        let out: Vec<bool> = (0..400).map(|k| (90..110).contains(&k)).collect();
        let mut trace: Vec<f64> = (0..400).map(bend).collect();
        (90..110).for_each(|k| trace[k] = 9.9);
        fill(&mut trace, &out);
        let worst = (0..400)
            .map(|k| (trace[k] - bend(k)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 0.05, "{worst}");
    }

    #[test]
    fn what_is_left_out_is_bridged_by_straight_lines_and_level_at_the_ends() {
        let bridge = |trace: &[f64], out: &[u8]| {
            let out: Vec<bool> = out.iter().map(|o| *o == 1).collect();
            let mut trace = trace.to_vec();
            straighten(&mut trace, &out);
            trace
        };
        let inner = bridge(&[1.0, 9.0, 9.0, 4.0, 2.0], &[0, 1, 1, 0, 0]);
        assert_eq!(inner, [1.0, 2.0, 3.0, 4.0, 2.0]);
        assert_eq!(bridge(&[9.0, 9.0, 2.0, 9.0], &[1, 1, 0, 1]), [2.0; 4]);
        assert_eq!(bridge(&[9.0, 9.0], &[1, 1]), [0.0, 0.0]);
    }

    #[test]
    fn what_no_line_explains_is_missing_in_proportion() {
        let mut state = 1_u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state) / f64::from(u32::MAX) - 0.5
        };
        let out = gaps(4000, 0.2);
        let mut trace: Vec<f64> = (0..4000).map(|_| noise()).collect();
        let missing = fill(&mut trace, &out);
        assert!((missing - 0.2).abs() < 1e-9, "{missing}");
    }
}
