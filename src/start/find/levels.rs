//! The four levels that cut a recording into idle, open, touching and conducting.

use crate::job::measuring::Measuring;
use crate::recording::Survey;
use crate::stats::order;

/// Lowest conduct level that is chosen without being asked for, A.
const CONDUCT_FLOOR_A: f64 = 1.0;
/// Conduct level in multiples of the idle noise rms.
const CONDUCT_NOISE: f64 = 6.0;
/// Open level, V, where a voltage as high as that is seen.
const OPEN_V: f64 = 30.0;
/// Open level in multiples of the median arc voltage, where it is not.
const OPEN_ARC: f64 = 3.0;

/// Levels in force for one recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Levels {
    /// Conducting from this magnitude of current on, A.
    pub conduct_a: f64,
    /// Conducting until under this one, A.
    pub release_a: f64,
    /// Touching under this magnitude of voltage, V.
    pub short_v: f64,
    /// Open from this magnitude of voltage on, V.
    pub open_v: f64,
}

impl Levels {
    /// The levels that the settings ask for, the rest from what the survey saw.
    pub fn of(survey: &Survey, measuring: &Measuring) -> Levels {
        let conduct_a = measuring
            .conduct_a
            .unwrap_or_else(|| CONDUCT_FLOOR_A.max(CONDUCT_NOISE * survey.noise_a.unwrap_or(0.0)));
        Levels {
            conduct_a,
            release_a: conduct_a * measuring.conduct_release,
            short_v: measuring.short_v,
            open_v: measuring
                .open_v
                .unwrap_or_else(|| open_level(survey, conduct_a)),
        }
    }
}

fn open_level(survey: &Survey, conduct_a: f64) -> f64 {
    let reached = |level: f64| {
        survey
            .cells
            .iter()
            .any(|c| f64::from(c.volts[1].max(-c.volts[0])) >= level)
    };
    if reached(OPEN_V) {
        return OPEN_V;
    }
    let mut arcs: Vec<f64> = survey
        .cells
        .iter()
        .filter(|c| {
            f64::from(c.amps[0].abs().min(c.amps[1].abs())) >= conduct_a
                && c.amps[0] * c.amps[1] > 0.0
        })
        .map(|c| f64::from(c.volts[2].abs()))
        .collect();
    // Without a voltage trace the arcs have no voltage, and a trigger takes the open circuit's place.
    let arc = order::median_in_place(&mut arcs).filter(|arc| *arc > 0.0);
    arc.map_or(OPEN_V, |arc| OPEN_V.min(OPEN_ARC * arc))
}
