//! Agreement of two ways to measure the same thing: bias and limits of agreement (Bland & Altman 1986).

use crate::stats::Interval;
use crate::stats::dist::{chi_squared_quantile, t_quantile, two_sided_z};

/// How far one way of measuring lies from another, from their differences.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Differences.
    pub n: usize,
    /// Their mean.
    pub bias: f64,
    /// Interval of the bias, by Student's t.
    pub bias_interval: Interval,
    /// Their standard deviation.
    pub sd: f64,
    /// Limits between which 95 of 100 differences lie if they are normal: bias ± 1.96 sd.
    pub limits: Interval,
    /// Interval of the lower limit.
    pub lower_interval: Interval,
    /// Interval of the upper limit.
    pub upper_interval: Interval,
}

/// Share of the differences that the limits of agreement hold.
const WITHIN: f64 = 0.95;

/// Bias and limits of agreement, each with its interval at a level; `None` of fewer than two differences.
///
/// The variance of a limit is s²(1/n + z²/(2(n − 1))), about 3s²/n (Bland & Altman 1986, Lancet i:307–310; 1999,
/// Stat. Methods Med. Res. 8:135–160).
pub fn agreement(differences: &[f64], level: f64) -> Option<Agreement> {
    let n = differences.len();
    if n < 2 {
        return None;
    }
    let count = n as f64;
    let bias = differences.iter().sum::<f64>() / count;
    let squares = differences.iter().map(|d| (d - bias).powi(2)).sum::<f64>();
    let sd = (squares / (count - 1.0)).sqrt();
    let t = t_quantile(level, count - 1.0);
    let z = two_sided_z(WITHIN);
    let about = |centre: f64, half: f64| Interval {
        lo: centre - half,
        hi: centre + half,
    };
    let of_limit = t * sd * (1.0 / count + z * z / (2.0 * (count - 1.0))).sqrt();
    let limits = about(bias, z * sd);
    Some(Agreement {
        n,
        bias,
        bias_interval: about(bias, t * sd / count.sqrt()),
        sd,
        limits,
        lower_interval: about(limits.lo, of_limit),
        upper_interval: about(limits.hi, of_limit),
    })
}

/// Garwood's (1936) exact interval for the rate of `k` events in an exposure.
pub fn poisson_rate(k: u64, exposure: f64, level: f64) -> Interval {
    assert!(exposure > 0.0, "events need something to happen in");
    let tail = (1.0 - level) / 2.0;
    let events = k as f64;
    Interval {
        lo: match k {
            0 => 0.0,
            _ => 0.5 * chi_squared_quantile(tail, 2.0 * events) / exposure,
        },
        hi: 0.5 * chi_squared_quantile(1.0 - tail, 2.0 * events + 2.0) / exposure,
    }
}
