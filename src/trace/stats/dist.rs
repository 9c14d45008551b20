//! Probability distributions, mostly from statrs.

use statrs::function::{beta::beta_reg, erf, factorial::ln_binomial, gamma::gamma_ur};

/// P(Z ≤ z) of the standard normal.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

/// z with P(Z ≤ z) = p; infinite at 0 and 1.
pub fn normal_quantile(p: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * p)
}

/// z that leaves (1 − level)/2 on each side.
pub(super) fn two_sided_z(level: f64) -> f64 {
    normal_quantile(0.5 + level / 2.0)
}

/// Two-sided p of a standard normal z.
pub(super) fn two_sided_p(z: f64) -> f64 {
    (2.0 * normal_cdf(-z.abs())).min(1.0)
}

/// P(χ² ≥ x) with `df` degrees of freedom.
pub(super) fn chi_squared_upper(x: f64, df: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    gamma_ur(df / 2.0, x / 2.0)
}

/// x with P(χ² ≤ x) = p at `df` degrees of freedom.
pub(super) fn chi_squared_quantile(p: f64, df: f64) -> f64 {
    let beyond = df + 20.0 * (2.0 * df).sqrt() + 100.0;
    bisect(0.0, beyond, |x| chi_squared_upper(x, df) > 1.0 - p)
}

/// Two-sided p of Student's t with `df` degrees of freedom, whole or not.
pub(super) fn two_sided_t(t: f64, df: f64) -> f64 {
    beta_reg(df / 2.0, 0.5, df / (df + t * t))
}

/// t that leaves (1 − level)/2 on each side.
pub(super) fn t_quantile(level: f64, df: f64) -> f64 {
    let x = beta_quantile(1.0 - level, df / 2.0, 0.5);
    (df * (1.0 - x) / x).sqrt()
}

/// x with P(F ≤ x) = p of Fisher's F.
pub(super) fn f_quantile(p: f64, df1: f64, df2: f64) -> f64 {
    let x = beta_quantile(p, df1 / 2.0, df2 / 2.0);
    df2 * x / (df1 * (1.0 - x))
}

/// P(X ≤ k) of the binomial with `n` trials at `p`.
pub(super) fn binomial_cdf(k: u64, n: u64, p: f64) -> f64 {
    if k >= n {
        return 1.0;
    }
    beta_reg((n - k) as f64, k as f64 + 1.0, 1.0 - p)
}

/// x with I_x(a, b) = p, by bisection on the regularised incomplete beta function.
///
/// The inverse in statrs stops at about 1e-8, short of the 1e-9 needed here.
pub(super) fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    bisect(0.0, 1.0, |x| beta_reg(a, b, x) < p)
}

/// Returns the point of [lo, hi] where `below` turns false, to the last significant bit.
pub(super) fn bisect(mut lo: f64, mut hi: f64, below: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..200 {
        let middle = 0.5 * (lo + hi);
        if middle <= lo || middle >= hi {
            break;
        }
        if below(middle) {
            lo = middle;
        } else {
            hi = middle;
        }
    }
    0.5 * (lo + hi)
}

/// ln P(X = k) of the hypergeometric distribution: `k` marked among `drawn` from `total`, of which `marked` are
/// marked.
pub(super) fn ln_hypergeometric(k: u64, total: u64, marked: u64, drawn: u64) -> f64 {
    ln_binomial(marked, k) + ln_binomial(total - marked, drawn - k) - ln_binomial(total, drawn)
}
