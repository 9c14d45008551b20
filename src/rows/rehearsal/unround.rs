//! Noise as it was before a logger rounded it: what is borrowed is laid onto other values and rounded anew.

use crate::demo::Chance;

use crate::stats::order::part_in_place;
use crate::stats::{normal_cdf, normal_quantile};

/// Puts values that were rounded to whole steps anywhere in the step that they stand for, as often as normal noise lies there.
///
/// Left as they are, they would shift what they are laid onto by whole steps only: an arc that wanders by less than a step would
/// stand still or jump, where the noise of the logger lets its mean through.
pub(super) fn unround(values: &mut [f64], step: f64, chance: &mut Chance) {
    let Some((centre, sd)) = noise(values, step) else {
        return;
    };
    for x in values {
        let at = |side: f64| normal_cdf((*x + side * step - centre) / sd);
        let drawn = normal_quantile(chance.between(at(-0.5), at(0.5)));
        // So far out that no normal deviate is told from the next.
        let drawn = (centre + sd * drawn).clamp(*x - 0.5 * step, *x + 0.5 * step);
        if drawn.is_finite() {
            *x = drawn;
        }
    }
}

/// Mean and standard deviation of noise by the shares of it below and above the middle step: a normal distribution has these
/// quantiles at that step's edges. What was never seen beyond an edge may still be there half a time.
fn noise(values: &[f64], step: f64) -> Option<(f64, f64)> {
    let middle = part_in_place(&mut values.to_vec(), 0.5).filter(|_| step > 0.0)?;
    let count = values.len() as f64;
    let share = |beyond: &dyn Fn(f64) -> bool| {
        let seen = values.iter().filter(|x| beyond(**x - middle)).count();
        (seen as f64).max(0.5) / count
    };
    let (below, above) = (share(&|x| x < -0.5 * step), share(&|x| x > 0.5 * step));
    let (low, high) = (normal_quantile(below), normal_quantile(1.0 - above));
    let sd = step / (high - low);
    (sd.is_finite() && sd > 0.0).then_some((middle + 0.5 * step - sd * high, sd))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise of a standard deviation about a centre, V, rounded to steps of 1 V; its values before.
    fn rounded(centre: f64, sd: f64) -> (Vec<f64>, Vec<f64>) {
        let mut chance = Chance::new(7, 0);
        let before: Vec<f64> = (0..20_000)
            .map(|_| centre + sd * chance.normals().0)
            .collect();
        (before.iter().map(|x| x.round()).collect(), before)
    }

    fn moments(values: &[f64]) -> (f64, f64) {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let square = values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n;
        (mean, square.sqrt())
    }

    #[test]
    fn mean_and_spread_are_those_before_rounding_whatever_the_step_hides() {
        for (centre, sd) in [(0.0, 0.2), (0.0, 0.53), (0.4, 0.3), (-0.2, 1.0), (0.1, 5.0)] {
            let (mut values, before) = rounded(centre, sd);
            unround(&mut values, 1.0, &mut Chance::new(1, 0));
            let ((mean, spread), (true_mean, true_sd)) = (moments(&values), moments(&before));
            // Five standard errors of 20,000 draws, and what is lost of noise that hardly leaves one step.
            assert!(
                (mean - true_mean).abs() < 0.02 * (1.0 + sd),
                "{mean} {true_mean}"
            );
            assert!((spread / true_sd - 1.0).abs() < 0.05, "{spread} {true_sd}");
            // Rounded again, they are what they were.
            let (again, _) = rounded(centre, sd);
            assert!(values.iter().zip(&again).all(|(x, y)| (x - y).abs() <= 0.5));
        }
    }

    #[test]
    fn noise_that_never_left_a_step_is_small_beside_it_and_no_step_changes_nothing() {
        let mut values = vec![3.0; 10_000];
        unround(&mut values, 1.0, &mut Chance::new(1, 0));
        let (mean, spread) = moments(&values);
        assert!(
            (mean - 3.0).abs() < 0.01 && spread < 0.15,
            "{mean} {spread}"
        );
        let mut values = vec![1.0, 2.0, 4.0];
        unround(&mut values, 0.0, &mut Chance::new(1, 0));
        assert_eq!(values, [1.0, 2.0, 4.0]);
    }
}
