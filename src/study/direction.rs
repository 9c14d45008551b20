//! Which way a measure is better, and how much of it is worth having.

use serde::Serialize;

/// Which way is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Better {
    /// Less is better.
    Lower,
    /// More is better.
    Higher,
    /// Neither is: the measure describes.
    Neither,
}

/// Measures that describe a start and have no better side.
const DESCRIBING: &[&str] = &[
    "lit_a",
    "run_a",
    "run_v",
    "wander_hz",
    "drift_v",
    "en_share_pct",
    "ac_hz",
    "dc_offset_a",
    "pulse_hz",
    "energy_j",
    "charge_c",
    "rest_s",
    "since_regrind",
    "u_start_ms",
    "u_run_a",
    "u_run_v",
    "u_wander_v",
];

impl Better {
    /// The better side of a measure or sheet column; a column of the user's own counts as better
    /// when lower, as most faults and times are.
    pub fn of(measure: &str) -> Self {
        match measure {
            "score" => Better::Higher,
            _ if DESCRIBING.contains(&measure) => Better::Neither,
            _ => Better::Lower,
        }
    }
}

/// The smallest difference worth having where the user gives none: this project's own starting
/// points (docs/statistics.md). `None` for counts and unknown columns: there "no difference" needs
/// the user's margin.
pub fn default_margin(measure: &str) -> Option<f64> {
    Some(match measure {
        "score" => 5.0,
        "start_ms" | "delay_ms" | "stutter_ms" | "settle_ms" => 20.0,
        "overshoot_pct" => 5.0,
        "wander_v" => 0.05,
        "run_v" => 0.3,
        "lit_a" | "run_a" => 2.0,
        _ => return None,
    })
}
