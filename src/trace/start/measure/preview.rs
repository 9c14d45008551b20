//! What a figure needs of a start: its traces decimated by minimum and maximum, its residual, its spectrum.

use crate::start::measure::wander::Wander;
use crate::start::trace::Trace;

/// The traces of one start, decimated by minimum and maximum, and its wander residual: for figures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Preview {
    /// Time of the first column, s from the recording's first sample.
    pub from_s: f64,
    /// Time a column covers, s.
    pub step_s: f64,
    /// Rate of the recording, Hz.
    pub rate_hz: f64,
    /// Minimum and maximum of the current in each column, A, in the order they came: so that an arc that ends inside a
    /// column does not look like one that lights in it.
    pub amps: Vec<[f32; 2]>,
    /// The same of the voltage, V; empty without a voltage trace.
    pub volts: Vec<[f32; 2]>,
    /// (current magnitude A, voltage magnitude V, residual V) at up to 500 points of the wander window.
    pub scatter: Vec<[f32; 3]>,
    /// (frequency Hz, density V²/Hz) of the residual, up to twice the band's end; empty where not measured.
    pub spectrum: Vec<[f32; 2]>,
    /// The band that wander was summed over, Hz; (0, 0) where not measured.
    pub wander_band_hz: (f64, f64),
}

/// Columns of a picture at the most: the strike, a twentieth of the window, is shown close up.
const COLUMNS: usize = 6000;
/// Points of a cloud at the most.
const POINTS: usize = 500;

impl Preview {
    /// Decimates a trace that begins at `from_s`.
    pub(crate) fn of(trace: &Trace, from_s: f64) -> Preview {
        let per_column = trace.amps.len().div_ceil(COLUMNS).max(1);
        let columns = |x: &[f64]| -> Vec<[f32; 2]> { x.chunks(per_column).map(extremes).collect() };
        Preview {
            from_s,
            step_s: per_column as f64 / trace.rate_hz,
            rate_hz: trace.rate_hz,
            amps: columns(&trace.amps),
            volts: columns(&trace.volts),
            ..Preview::default()
        }
    }

    /// Keeps every so-manieth point of a cloud.
    fn thinned(scatter: &[[f32; 3]]) -> Vec<[f32; 3]> {
        scatter
            .iter()
            .step_by(scatter.len().div_ceil(POINTS).max(1))
            .copied()
            .collect()
    }

    /// The residual of a wander and its spectrum, without traces.
    pub(crate) fn of_residual(
        found: &Wander,
        scatter: &[[f32; 3]],
        band_hz: (f64, f64),
    ) -> Preview {
        let step = found.density.step_hz;
        let shown = found
            .density
            .power
            .iter()
            .enumerate()
            .map(|(k, p)| [(k as f64 * step) as f32, *p as f32]);
        Preview {
            scatter: Preview::thinned(scatter),
            spectrum: shown
                .take_while(|p| f64::from(p[0]) <= 2.0 * band_hz.1)
                .collect(),
            wander_band_hz: band_hz,
            ..Preview::default()
        }
    }
}

/// Minimum and maximum of some samples in the order they came.
fn extremes(samples: &[f64]) -> [f32; 2] {
    let place = |beats: fn(f64, f64) -> bool| {
        let places = 1..samples.len();
        places.fold(0, |best, k| match beats(samples[k], samples[best]) {
            true => k,
            false => best,
        })
    };
    let (low, high) = (place(|v, best| v < best), place(|v, best| v > best));
    [low.min(high), low.max(high)].map(|k| samples[k] as f32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn extremes_come_in_their_order() {
        // An arc that goes out, and one that lights.
        assert_eq!(extremes(&[79.0, 80.0, 3.0, 0.0, 0.1]), [80.0, 0.0]);
        assert_eq!(extremes(&[0.1, 0.0, 3.0, 80.0, 79.0]), [0.0, 80.0]);
        assert_eq!(extremes(&[5.0]), [5.0, 5.0]);
    }
}
