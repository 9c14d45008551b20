//! How much of the variance lies between tips.

use std::collections::BTreeMap;

use crate::stats::dist::f_quantile;
use crate::stats::tip_values::TipValues;

/// The share of variance between tips of one group (the intraclass correlation), with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipShare {
    /// The share, 0 to 1.
    pub share: f64,
    /// Lower end of its interval.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
    /// Mean square between tips.
    pub between: f64,
    /// Mean square within tips.
    pub within: f64,
}

/// One-way analysis of variance of tips within the cells of group and block (Shrout & Fleiss 1979,
/// ICC(1,1), with their interval from F; unequal numbers of starts by the usual mean size). A share
/// under zero is given as 0.
///
/// `None` where no cell has two tips, no tip has two starts, or nothing varies.
pub fn tip_share(values: &TipValues, level: f64) -> Option<TipShare> {
    // Of each cell: tips, starts, starts squared, sum, sum about the mean.
    let mut cells: BTreeMap<(usize, usize), Vec<(f64, f64)>> = BTreeMap::new();
    for tip in &values.tips {
        let cell = cells.entry((tip.group, tip.block)).or_default();
        cell.push((tip.starts as f64, tip.value));
    }
    let free = values.tips.len() - cells.len();
    if free == 0 || values.within_df == 0 {
        return None;
    }
    let (mut squares, mut size) = (0.0, 0.0);
    for cell in cells.values() {
        let n: f64 = cell.iter().map(|(n, _)| n).sum();
        let mean = cell.iter().map(|(n, value)| n * value).sum::<f64>() / n;
        squares += cell
            .iter()
            .map(|(n, value)| n * (value - mean).powi(2))
            .sum::<f64>();
        size += n - cell.iter().map(|(n, _)| n * n).sum::<f64>() / n;
    }
    let (df1, df2) = (free as f64, values.within_df as f64);
    let (size, between, within) = (size / df1, squares / df1, values.within_ss / df2);
    if between + within <= 0.0 {
        return None;
    }
    let share = |f: f64| ((f - 1.0) / (f + size - 1.0)).clamp(0.0, 1.0);
    let f = between / within;
    let tail = (1.0 - level) / 2.0;
    let end = |p: f64| match f.is_finite() {
        true => share(f / f_quantile(p, df1, df2)),
        false => 1.0,
    };
    Some(TipShare {
        share: if f.is_finite() { share(f) } else { 1.0 },
        lo: end(1.0 - tail),
        hi: end(tail),
        between,
        within,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::tip_values::{TipStart, tip_values};

    fn table(tips: &[&[f64]]) -> TipValues {
        let starts: Vec<TipStart> = tips
            .iter()
            .enumerate()
            .flat_map(|(tip, values)| {
                values.iter().map(move |&value| TipStart {
                    group: 0,
                    tip,
                    coupon: 0,
                    value,
                })
            })
            .collect();
        tip_values(&starts)
    }

    #[track_caller]
    fn close(seen: f64, published: f64, tolerance: f64) {
        assert!((seen - published).abs() <= tolerance, "{seen}, {published}");
    }

    /// Shrout & Fleiss (1979, Psychological Bulletin 86, 420), six targets and four judges: mean squares 11.24 and
    /// 6.26, ICC(1,1) = .17; more digits recomputed with NumPy, interval with SciPy's F.
    #[test]
    fn the_share_of_shrout_and_fleiss() {
        let found = tip_share(
            &table(&[
                &[9.0, 2.0, 5.0, 8.0],
                &[6.0, 1.0, 3.0, 2.0],
                &[8.0, 4.0, 6.0, 8.0],
                &[7.0, 1.0, 2.0, 6.0],
                &[10.0, 5.0, 6.0, 9.0],
                &[6.0, 2.0, 4.0, 7.0],
            ]),
            0.95,
        )
        .unwrap();
        close(found.between, 11.241_667, 1e-6);
        close(found.within, 6.263_889, 1e-6);
        close(found.share, 0.165_74, 5e-6);
        assert_eq!(found.lo, 0.0);
        close(found.hi, 0.722_560_06, 1e-6);
    }

    /// Davies (1947), Dyestuff, six batches of five: mean squares 11271.5 and 2451.25, share 0.418487 (REML and the
    /// analysis of variance agree, the data being balanced; recomputed with statsmodels' MixedLM).
    #[test]
    fn the_share_of_dyestuff() {
        let found = tip_share(
            &table(&[
                &[1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
                &[1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
                &[1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
                &[1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
                &[1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
                &[1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
            ]),
            0.95,
        )
        .unwrap();
        close(found.between, 11271.5, 1e-6);
        close(found.within, 2451.25, 1e-6);
        close(found.share, 0.418_487, 1e-6);
        close(found.lo, 0.083_836_05, 1e-6);
        close(found.hi, 0.847_876_82, 1e-6);
    }

    #[test]
    fn one_start_a_tip_or_one_tip_tells_no_share() {
        assert_eq!(tip_share(&table(&[&[1.0], &[2.0]]), 0.95), None);
        assert_eq!(tip_share(&table(&[&[1.0, 2.0, 4.0]]), 0.95), None);
        assert_eq!(tip_share(&table(&[&[3.0, 3.0], &[3.0, 3.0]]), 0.95), None);
        let apart = tip_share(&table(&[&[3.0, 3.0], &[4.0, 4.0]]), 0.95).unwrap();
        assert_eq!((apart.share, apart.lo, apart.hi), (1.0, 1.0, 1.0));
    }
}
