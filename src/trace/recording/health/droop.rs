//! How a high-pass lets a trace sag between its steps: in proportion to the integral of what is left of it.

/// Corners that are looked for, Hz.
pub(super) const CORNERS_HZ: (f64, f64) = (0.3, 30.0);
/// Fewer blocks between two steps tell nothing.
const BLOCKS: usize = 4;

/// What the stretches of a trace say together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Droop {
    pub corner_hz: f64,
    /// Standard error of the corner as a part of it.
    pub error: f64,
}

/// The block means between changes of more than `step`.
pub(super) fn between_steps(means: &[f64], step_s: f64, step: f64, longest_s: f64) -> Vec<&[f64]> {
    let steps = (1..means.len()).filter(|&k| (means[k] - means[k - 1]).abs() > step);
    let ends: Vec<usize> = steps.chain([means.len()]).collect();
    let most = (longest_s / step_s) as usize;
    // The block of a step holds a part of it.
    let row = |w: &[usize]| means.get(w[0] + 1..w[1].min(w[0] + 1 + most));
    let rows = ends.windows(2).filter_map(row);
    rows.filter(|row| row.len() >= BLOCKS).collect()
}

/// The straight line of a row of means over their integral.
pub(super) struct Line {
    /// The corner that its slope tells.
    pub corner_hz: f64,
    /// What it leaves, rms.
    pub left: f64,
}

/// The corner that a row of block means tells by itself, by least squares.
pub(super) fn line(row: &[f64], step_s: f64) -> Option<Line> {
    let integral = centred(integral(row, step_s));
    let (yi, ii) = (dot(row, &integral), dot(&integral, &integral));
    let values = centred(row.to_vec());
    let left = (dot(&values, &values) - yi * yi / ii).max(0.0) / row.len() as f64;
    (ii > 0.0).then(|| Line {
        corner_hz: -yi / ii / std::f64::consts::TAU,
        left: left.sqrt(),
    })
}

/// The integral to the middle of each block.
pub(super) fn integral(row: &[f64], step_s: f64) -> Vec<f64> {
    let mut sum = 0.0;
    let to_middle = |y: &f64| {
        sum += y * step_s;
        sum - 0.5 * y * step_s
    };
    row.iter().map(to_middle).collect()
}

/// Without their mean.
pub(super) fn centred(mut values: Vec<f64>) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    values.iter_mut().for_each(|x| *x -= mean);
    values
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
