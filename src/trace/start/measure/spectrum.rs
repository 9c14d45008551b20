//! Welch's spectral density, and what is derived from it.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::sync::Arc;

use rustfft::{Fft, FftDirection, FftPlanner, num_complex::Complex};

/// One-sided power spectral density.
#[derive(Debug, Clone, PartialEq)]
pub struct Density {
    /// Spacing of the bins, Hz: bin k is at k × this.
    pub step_hz: f64,
    /// Density, unit²/Hz.
    pub power: Vec<f64>,
}

/// Welch (1967): periodic Hann window, segments of `segment` samples (or the whole trace if shorter), mean removed
/// from each, densities averaged. The segments are spread evenly from the first sample to the last and overlap by
/// half or more; at exactly half, this matches `scipy.signal.welch` with its defaults.
pub fn welch(trace: &[f64], rate_hz: f64, segment: usize) -> Density {
    let spectra = Spectra::of(trace, rate_hz, segment);
    Density {
        step_hz: rate_hz / spectra.window.len() as f64,
        power: spectra.averaged(
            spectra
                .parts()
                .map(|bins| bins.iter().map(|b| b.norm_sqr()).collect()),
        ),
    }
}

/// One-sided cross-spectral density of two traces of equal length, computed like [`welch`]: the conjugate of the
/// first times the second, as in `scipy.signal.csd`. If the second comes later, the phase falls with frequency.
pub fn cross_density(
    first: &[f64],
    second: &[f64],
    rate_hz: f64,
    segment: usize,
) -> Vec<Complex<f64>> {
    let [first, second] = [first, second].map(|trace| Spectra::of(trace, rate_hz, segment));
    let both = first.parts().zip(second.parts());
    first.averaged(both.map(|(a, b)| a.iter().zip(&b).map(|(a, b)| a.conj() * b).collect()))
}

/// The spectra of a trace's overlapping segments.
struct Spectra<'a> {
    trace: &'a [f64],
    window: Vec<f64>,
    /// Factor from a product of two bins to a two-sided density.
    scale: f64,
}

impl<'a> Spectra<'a> {
    fn of(trace: &'a [f64], rate_hz: f64, segment: usize) -> Spectra<'a> {
        let n = segment.min(trace.len()).max(1);
        let window: Vec<f64> = with_turning(std::f64::consts::TAU / n as f64, n, |cos, _| {
            cos.iter().map(|cos| 0.5 - 0.5 * cos).collect()
        });
        let scale = 1.0 / (rate_hz * window.iter().map(|w| w * w).sum::<f64>());
        Spectra {
            trace,
            window,
            scale,
        }
    }

    /// Spectra from zero to half the sample rate, segment by segment.
    fn parts(&self) -> impl Iterator<Item = Vec<Complex<f64>>> {
        let n = self.window.len();
        let fft = transform(n, FftDirection::Forward);
        // Offset of the last segment, and the number of steps to reach it.
        let last = self.trace.len().saturating_sub(n);
        let steps = last.div_ceil((n - n / 2).max(1));
        (0..=steps).map(move |k| {
            let from = k * last / steps.max(1);
            let part = &self.trace[from..from + n];
            let mean = part.iter().sum::<f64>() / n as f64;
            let mut bins: Vec<Complex<f64>> = part
                .iter()
                .zip(&self.window)
                .map(|(x, w)| Complex::new((x - mean) * w, 0.0))
                .collect();
            fft.process(&mut bins);
            bins.truncate(n / 2 + 1);
            bins
        })
    }

    /// One-sided density: the mean over segments, with both sides combined.
    fn averaged<T>(&self, products: impl Iterator<Item = Vec<T>>) -> Vec<T>
    where
        T: Copy + Default + std::ops::AddAssign + std::ops::MulAssign<f64>,
    {
        let n = self.window.len();
        let mut density = vec![T::default(); n / 2 + 1];
        let mut segments = 0;
        for product in products {
            for (sum, p) in density.iter_mut().zip(product) {
                *sum += p;
            }
            segments += 1;
        }
        for (k, p) in density.iter_mut().enumerate() {
            let one_sided = if k == 0 || 2 * k == n { 1.0 } else { 2.0 };
            *p *= one_sided * self.scale / f64::from(segments.max(1));
        }
        density
    }
}

/// The cross-correlation for a one-sided density of segments of `n` samples: index k holds the value for a lag of k
/// samples of the second behind the first, index n − k that for −k.
pub fn cross_correlation(density: &[Complex<f64>], n: usize) -> Vec<f64> {
    let mut bins = vec![Complex::default(); n];
    for (k, p) in density.iter().enumerate() {
        if k == 0 || 2 * k == n {
            bins[k] = *p;
        } else {
            bins[k] = 0.5 * p;
            bins[n - k] = 0.5 * p.conj();
        }
    }
    transform(n, FftDirection::Inverse).process(&mut bins);
    bins.iter().map(|b| b.re / n as f64).collect()
}

/// Vertex of the parabola through a peak and its neighbours.
pub fn peak(r: &[f64], k: usize) -> f64 {
    let (a, b, c) = (r[k - 1], r[k], r[k + 1]);
    let curvature = a - 2.0 * b + c;
    if curvature >= 0.0 {
        k as f64
    } else {
        k as f64 + 0.5 * (a - c) / curvature
    }
}

/// Number of plans cached per thread.
const PLANS: usize = 8;

/// Returns a plan for `n` values, with a small cache: making a plan takes longer than using it.
pub(crate) fn transform(n: usize, direction: FftDirection) -> Arc<dyn Fft<f64>> {
    thread_local! {
        static KEPT: RefCell<VecDeque<Arc<dyn Fft<f64>>>> = const { RefCell::new(VecDeque::new()) };
    }
    KEPT.with_borrow_mut(|kept| {
        let fits = |plan: &&Arc<dyn Fft<f64>>| plan.len() == n && plan.fft_direction() == direction;
        if let Some(plan) = kept.iter().find(fits) {
            return plan.clone();
        }
        let plan = FftPlanner::new().plan_fft(n, direction);
        kept.push_front(plan.clone());
        kept.truncate(PLANS);
        plan
    })
}

impl Density {
    /// (rms, strongest frequency) over the bins from `from_hz` to `to_hz` inclusive; `None` if there are none.
    pub fn band(&self, from_hz: f64, to_hz: f64) -> Option<(f64, f64)> {
        let inside = self.inside(from_hz, to_hz);
        let strongest = inside
            .clone()
            .max_by(|a, b| self.power[*a].total_cmp(&self.power[*b]))?;
        let sum: f64 = self.power[inside].iter().sum();
        Some(((sum * self.step_hz).sqrt(), strongest as f64 * self.step_hz))
    }

    /// Number of bins from `from_hz` to `to_hz` inclusive.
    pub fn bins(&self, from_hz: f64, to_hz: f64) -> usize {
        self.inside(from_hz, to_hz).len()
    }

    fn inside(&self, from_hz: f64, to_hz: f64) -> std::ops::Range<usize> {
        const EDGE: f64 = 1e-9;
        let from = (from_hz / self.step_hz * (1.0 - EDGE)).ceil() as usize;
        let to = (to_hz / self.step_hz * (1.0 + EDGE)).floor() as usize + 1;
        from..to.clamp(from, self.power.len().max(from))
    }
}

/// Removes sinusoids of known frequency from a trace, one after the other, by least squares; returns their combined
/// rms.
pub fn take_out_lines(
    trace: &mut [f64],
    rate_hz: f64,
    lines_hz: impl IntoIterator<Item = f64>,
) -> f64 {
    take_out_power(trace, rate_hz, lines_hz, 0.0).sqrt()
}

/// [`take_out_lines`], with their power added to that of others.
pub fn take_out_power(
    trace: &mut [f64],
    rate_hz: f64,
    lines_hz: impl IntoIterator<Item = f64>,
    others: f64,
) -> f64 {
    let mut power = others;
    for f in lines_hz {
        let turn = std::f64::consts::TAU * f / rate_hz;
        let squares = squares(turn, trace.len());
        let line = with_turning(turn, trace.len(), |cos, sin| {
            let [a, b] = fitted([dot(trace, cos), dot(trace, sin)], squares)?;
            for ((x, c), s) in trace.iter_mut().zip(cos).zip(sin) {
                *x -= a * c + b * s;
            }
            Some(0.5 * (a * a + b * b))
        });
        power += line.unwrap_or(0.0);
    }
    power
}

/// Amplitudes of cosine and sine by least squares, from the sums of the products of the trace with them and of their
/// own products, cos², sin² and cos·sin; `None` if the two are nearly collinear.
pub(crate) fn fitted([xc, xs]: [f64; 2], [cc, ss, cs]: [f64; 3]) -> Option<[f64; 2]> {
    let det = cc * ss - cs * cs;
    (det > 1e-6 * cc * ss).then(|| [(xc * ss - xs * cs) / det, (xs * cc - xc * cs) / det])
}

/// Sums over k < `count` of cos², sin² and cos·sin of k × `turn`, as geometric series of the doubled angle.
fn squares(turn: f64, count: usize) -> [f64; 3] {
    let n = count as f64;
    let step = Complex::cis(2.0 * turn) - 1.0;
    let doubled = if step.norm_sqr() > 0.0 {
        (Complex::cis(2.0 * turn * n) - 1.0) / step
    } else {
        n.into()
    };
    [
        0.5 * (n + doubled.re),
        0.5 * (n - doubled.re),
        0.5 * doubled.im,
    ]
}

/// Lines of which cosine and sine are kept per thread, and the longest that are: those of the mains are asked for at every start.
const KEPT_LINES: usize = 16;
const KEPT_VALUES: usize = 1 << 13;
/// Windows differ by a few values: a line is kept for a few more.
const ROUNDED: usize = 512;

/// Cosine and sine of one line.
struct Turning {
    turn: f64,
    cos: Vec<f64>,
    sin: Vec<f64>,
}

impl Turning {
    fn new(turn: f64, count: usize) -> Turning {
        let (mut cos, mut sin) = (vec![0.0; count], vec![0.0; count]);
        turning(turn, &mut cos, &mut sin);
        Turning { turn, cos, sin }
    }
}

/// Gives cosine and sine of k × `turn` for each k under `count`.
fn with_turning<T>(turn: f64, count: usize, give: impl FnOnce(&[f64], &[f64]) -> T) -> T {
    thread_local! {
        static KEPT: RefCell<VecDeque<Turning>> = const { RefCell::new(VecDeque::new()) };
    }
    if count > KEPT_VALUES {
        let Turning { cos, sin, .. } = Turning::new(turn, count);
        return give(&cos, &sin);
    }
    KEPT.with_borrow_mut(|kept| {
        let place = kept.iter().position(|known| known.turn == turn);
        let mut known = place.and_then(|place| kept.remove(place));
        let line = match known.take_if(|known| known.cos.len() >= count) {
            Some(line) => line,
            None => Turning::new(turn, count.next_multiple_of(ROUNDED)),
        };
        let given = give(&line.cos[..count], &line.sin[..count]);
        kept.push_front(line);
        kept.truncate(KEPT_LINES);
        given
    })
}

/// Cosine and sine of k × `turn` for each k, by the addition theorem from a table of the first few values, rotated
/// piece by piece. This costs a fraction of the library functions and is accurate to 1e-11 over a million values.
fn turning(turn: f64, cos: &mut [f64], sin: &mut [f64]) {
    const TABLE: usize = 64;
    let table: [Complex<f64>; TABLE] = std::array::from_fn(|k| Complex::cis(turn * k as f64));
    let onward = Complex::cis(turn * TABLE as f64);
    let mut begin = Complex::new(1.0, 0.0);
    for (cos, sin) in cos.chunks_mut(TABLE).zip(sin.chunks_mut(TABLE)) {
        for ((c, s), step) in cos.iter_mut().zip(sin).zip(table) {
            *c = begin.re * step.re - begin.im * step.im;
            *s = begin.im * step.re + begin.re * step.im;
        }
        begin *= onward;
    }
}

/// Sum of products, in lanes so that the compiler vectorises.
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    const LANES: usize = 8;
    let (a, a_rest) = a.as_chunks::<LANES>();
    let (b, b_rest) = b.as_chunks::<LANES>();
    let mut sums = [0.0; LANES];
    for (a, b) in a.iter().zip(b) {
        for k in 0..LANES {
            sums[k] += a[k] * b[k];
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    sums.iter().sum::<f64>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turning_is_cosine_and_sine_and_its_squares_have_their_sums() {
        let count = 1_000_001;
        let (mut cos, mut sin) = (vec![0.0; count], vec![0.0; count]);
        for turn in [0.0785, 0.3, 2.0, 1e-5] {
            turning(turn, &mut cos, &mut sin);
            for k in (0..count).step_by(997) {
                let (s, c) = (turn * k as f64).sin_cos();
                assert!((cos[k] - c).hypot(sin[k] - s) < 1e-9, "{turn}, {k}");
            }
            let sums = [dot(&cos, &cos), dot(&sin, &sin), dot(&cos, &sin)];
            for (seen, expected) in squares(turn, count).into_iter().zip(sums) {
                assert!(
                    (seen - expected).abs() < 1e-4,
                    "{turn}: {seen} is not {expected}"
                );
            }
        }
        assert_eq!(squares(0.0, 7), [7.0, 0.0, 0.0]);
    }
}
