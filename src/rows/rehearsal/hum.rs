//! The mains hum of rests: its harmonics, in step with each other, and the rests without it.

use std::f64::consts::TAU;

use rustfft::num_complex::Complex;

/// Harmonics of the mains that hum is looked for at.
const HARMONICS: usize = 5;
/// Hum is read from pieces of this many mains periods or more.
const HUM_PERIODS: f64 = 2.0;

/// A sine of the hum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Line {
    pub hz: f64,
    /// Amplitude, A and V, and phase of current and voltage: the phase where that of the current's fundamental is 0.
    pub traces: [[f64; 2]; 2],
}

/// The hum of rests at the harmonics of a mains frequency, and the rests without it and without their means.
pub(super) fn part_hum(
    rests: &[[Vec<f64>; 2]],
    rate_hz: f64,
    mains_hz: f64,
) -> (Vec<Line>, Vec<[Vec<f64>; 2]>) {
    let mut squares = [[0.0; 2]; HARMONICS];
    let mut sums = [[Complex::<f64>::ZERO; 2]; HARMONICS];
    let mut told = 0usize;
    let mut left: Vec<[Vec<f64>; 2]> = rests.to_vec();
    for traces in &mut left {
        let periods = (traces[0].len() as f64 * mains_hz / rate_hz).floor();
        let whole = (periods * rate_hz / mains_hz) as usize;
        let tells = periods >= HUM_PERIODS;
        told += usize::from(tells);
        let mut mains = Complex::<f64>::ZERO;
        for (trace, values) in traces.iter_mut().enumerate() {
            let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
            values.iter_mut().for_each(|x| *x -= mean);
            if tells && !values.is_empty() {
                for (k, times) in (0..HARMONICS).zip(1..) {
                    let hz = mains_hz * f64::from(times);
                    let (sine, square) = take_sine(values, whole, hz / rate_hz);
                    if (trace, k) == (0, 0) {
                        mains = sine / sine.norm().max(f64::MIN_POSITIVE);
                    }
                    squares[k][trace] += square;
                    sums[k][trace] += sine * mains.conj().powi(times);
                }
            }
        }
    }
    let line = |k: usize| Line {
        hz: mains_hz * (k + 1) as f64,
        traces: [0, 1].map(|trace| {
            let square = squares[k][trace] / told.max(1) as f64;
            [square.max(0.0).sqrt(), sums[k][trace].arg()]
        }),
    };
    ((0..HARMONICS).map(line).collect(), left)
}

/// Takes a sine, told by the first `whole` values, out of all; returns it, by amplitude and phase at the first value, and its
/// squared amplitude less what noise would show.
fn take_sine(values: &mut [f64], whole: usize, cycles_a_value: f64) -> (Complex<f64>, f64) {
    if cycles_a_value >= 0.5 || whole == 0 {
        return (Complex::ZERO, 0.0);
    }
    let angle = |k: usize| TAU * cycles_a_value * k as f64;
    let (mut a, mut b, mut power) = (0.0, 0.0, 0.0);
    for (k, x) in values[..whole].iter().enumerate() {
        let (sin, cos) = libm::sincos(angle(k));
        a += x * cos;
        b += x * sin;
        power += x * x;
    }
    let n = whole as f64;
    (a, b) = (2.0 * a / n, 2.0 * b / n);
    for (k, x) in values.iter_mut().enumerate() {
        let (sin, cos) = libm::sincos(angle(k));
        *x -= a * cos + b * sin;
    }
    let square = a * a + b * b;
    let noise = (power / n - 0.5 * square).max(0.0);
    (Complex::new(b, a), square - 4.0 * noise / n)
}
