//! How many starts show that few are rough?

use serde::Serialize;

use crate::error::{Error, ErrorKind, Place, Result};
use crate::stats;

/// Starts that show a low rough rate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LimitPlan {
    /// Starts to strike.
    pub starts: u64,
    /// Rate to stay under, in parts of one.
    pub limit: f64,
    /// Rough starts allowed.
    pub allowed: u64,
    /// Confidence level.
    pub level: f64,
}

/// Starts that show a rough rate under `limit` when no more than `allowed` of them are rough.
///
/// # Errors
/// A limit that is no rate.
pub fn under_limit(limit: f64, allowed: u64, level: f64) -> Result<LimitPlan> {
    if !(1e-6..1.0).contains(&limit) {
        let problem = format!("{} is not between 0 and 100", 100.0 * limit);
        return Err(Error::new(
            ErrorKind::InvalidParameter,
            Place::parameter("rough_under"),
            problem,
        ));
    }
    let starts = match allowed {
        0 => stats::success_run(level, 1.0 - limit),
        _ => stats::demonstration_size(allowed, limit, level),
    };
    Ok(LimitPlan {
        starts,
        limit,
        allowed,
        level,
    })
}
