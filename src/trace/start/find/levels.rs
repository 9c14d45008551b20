//! The four levels that cut a recording into idle, open, touching and conducting.

use crate::job::measuring::Measuring;
use crate::recording::{OPEN_OVER_ARC, Survey};
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

/// What parts the states where both traces bear witness, from the recording itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct PairLevels {
    /// Something flows over this, A.
    pub flow_a: f64,
    /// Over this it flows whatever the voltage says, A.
    pub sure_a: f64,
    /// The voltage is near zero up to this, V.
    pub touch_v: f64,
    /// The circuit stands open from this on unless something surely flows, V; infinite where open circuit and arc cannot be
    /// told apart by the voltage.
    pub open_v: f64,
    /// Where nothing flows, open from this on, V.
    pub idle_open_v: f64,
    /// From this on the voltage stands at the open circuit's own level, V …
    pub stands_v: f64,
    /// … which an arc, however short, would pull down: less than this is a pick-up there, A.
    pub stands_a: f64,
}

/// The current flows over this multiple of what 99 in 100 blocks of it stay within at rest …
const OVER_REST: f64 = 1.5;
/// … and over this part of the run level …
const FLOW_PART: f64 = 0.015;
/// … and surely over this part of it.
const SURE_PART: f64 = 0.1;
/// A voltage under this part of the arc's is near zero.
const TOUCH_PART: f64 = 0.45;
/// What is lower flows nowhere for sure, A.
const FLOW_FLOOR_A: f64 = 0.5;
/// A voltage stands at the open circuit's level from this part of it on …
const STANDS_PART: f64 = 0.85;
/// … where a current under this part of the run level is none.
const STANDS_RUN_PART: f64 = 0.4;
/// Where nothing flows, the circuit is open from this part of its level on.
const IDLE_OPEN_PART: f64 = 0.6;
/// Arc voltage where the recording shows none, V.
const USUAL_ARC_V: f64 = 12.0;

impl PairLevels {
    /// The levels that the settings ask for, the rest from what the traces show; `None` where they show neither an arc nor an
    /// open circuit.
    pub fn of(survey: &Survey, measuring: &Measuring) -> Option<PairLevels> {
        let sight = survey.sight?;
        if sight.arc_v.is_none() && (sight.open_v.is_none() || sight.run_a.is_some()) {
            return None;
        }
        let arc_v = sight.arc_v.unwrap_or(USUAL_ARC_V);
        let run_a = sight.run_a.unwrap_or(0.0);
        let rest = OVER_REST * sight.rest[0];
        let flow_a = measuring
            .conduct_a
            .unwrap_or_else(|| rest.max(FLOW_PART * run_a).max(FLOW_FLOOR_A));
        let fixed = measuring.short_v != Measuring::default().short_v;
        let touch_v = match fixed {
            true => measuring.short_v,
            false => (TOUCH_PART * arc_v)
                .max(OVER_REST * sight.rest[1])
                .min(measuring.short_v),
        };
        let apart = sight.open_v.filter(|open| *open > OPEN_OVER_ARC * arc_v);
        // Open circuits of a few milliseconds may hide from the look at some places.
        let unseen = || {
            let none = sight.open_v.is_none();
            none.then(|| OPEN_V.max(OPEN_OVER_ARC * arc_v))
        };
        let open_v = measuring
            .open_v
            .or(apart.map(|open| (open * arc_v).sqrt()))
            .or_else(unseen)
            .unwrap_or(f64::INFINITY);
        let idle = sight.open_v.map_or(open_v, |open| IDLE_OPEN_PART * open);
        let sure_a = (SURE_PART * run_a).max(2.0 * flow_a);
        Some(PairLevels {
            flow_a,
            sure_a,
            stands_v: apart
                .map_or(f64::INFINITY, |open| STANDS_PART * open)
                .max(open_v),
            stands_a: (STANDS_RUN_PART * run_a).max(sure_a),
            touch_v,
            open_v,
            idle_open_v: idle.max(1.2 * touch_v).min(open_v),
        })
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

#[cfg(test)]
impl PairLevels {
    /// Those of an arc of 80 A and 12 V, and an open circuit of 70 V.
    pub fn example() -> PairLevels {
        PairLevels {
            flow_a: 1.2,
            sure_a: 8.0,
            touch_v: 5.0,
            open_v: 29.0,
            idle_open_v: 29.0,
            stands_v: 60.0,
            stands_a: 32.0,
        }
    }
}
