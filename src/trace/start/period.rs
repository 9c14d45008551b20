//! The period of events, some of which may be missing.

/// The period of instants, some of which may be missing: each gets its number by the steps from the one before (rounding
/// times themselves would add up), and a straight line by least squares goes through all of them.
pub(crate) fn period_of(instants: &[f64], typical: f64) -> Option<f64> {
    let mut period = typical;
    for _ in 0..2 {
        let mut number = 0.0;
        let mut points = vec![(0.0, *instants.first()?)];
        for w in instants.windows(2) {
            number += ((w[1] - w[0]) / period).round().max(0.0);
            points.push((number, w[1]));
        }
        period = slope(&points)?;
    }
    (period > 0.0).then_some(period)
}

/// Slope of the straight line by least squares; `None` where all stand at one place.
fn slope(points: &[(f64, f64)]) -> Option<f64> {
    let n = points.len() as f64;
    let mean = |of: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (x, y) = (mean(&|p| p.0), mean(&|p| p.1));
    let (mut xx, mut xy) = (0.0, 0.0);
    for p in points {
        xx += (p.0 - x).powi(2);
        xy += (p.0 - x) * (p.1 - y);
    }
    (xx > 0.0).then(|| xy / xx)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 400 instants of 20.13 frames, each rounded to a whole frame, every seventh missing: the line through all is right to
    /// 1e-5, where rounding the typical step (20) and counting by it alone would be 0.6 % off.
    #[test]
    fn rounded_instants_with_holes_have_the_period_they_were_made_with() {
        let instants: Vec<f64> = (0..400)
            .filter(|k| k % 7 != 3)
            .map(|k| (20.13 * f64::from(k)).round())
            .collect();
        let found = period_of(&instants, 20.0).unwrap();
        assert!((found / 20.13 - 1.0).abs() < 5e-5, "{found}");
        assert_eq!(period_of(&[], 20.0), None);
        assert_eq!(period_of(&[1.0], 20.0), None);
    }
}
