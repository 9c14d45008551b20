//! Why the reading of a start cannot be trusted.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::recording::Finding;

/// A reason not to trust the reading of a start. Its `Display` says what was seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Doubt {
    /// What speaks against the whole recording spoils its starts.
    Recording(Finding),
    /// The states of the circuit explain too little of the start's time.
    Unexplained {
        /// Share of its time that they explain, %.
        explained_pct: f64,
    },
    /// The run current is a tenth of what the run sheet sets, or ten times as much.
    TenTimesOff {
        /// Measured, A.
        run_a: f64,
        /// By the run sheet, A.
        set_a: f64,
    },
    /// A second reading with other levels tells something else.
    SecondReading(SecondReading),
    /// The current rests nowhere in the recording.
    NoRest,
    /// Current for long, and no voltage with it.
    NoVoltage {
        /// Its mean, A.
        amps: f64,
        /// How long, s.
        for_s: f64,
    },
    /// An arc's voltage for long, and no current with it.
    NoCurrent {
        /// Its mean, V.
        volts: f64,
        /// How long, s.
        for_s: f64,
    },
    /// The zero of the current is another one after the start than before.
    ZeroStep {
        /// By this much, A.
        step_a: f64,
    },
    /// The current stands at two levels for half of the window each.
    EitherLevel {
        /// The lower, A.
        low_a: f64,
        /// The higher, A.
        high_a: f64,
    },
    /// An alternating current of uneven half-waves without a mean.
    NoMean {
        /// Share of its time electrode negative, %.
        en_share_pct: f64,
    },
    /// When it settled hangs on noise, or on half-cycles of few samples.
    Settling {
        /// From when on it may have settled, s from the recording's first sample.
        from_s: f64,
        /// The latest instant, s; `None` where it may not have settled at all.
        to_s: Option<f64>,
    },
    /// The trace shows current while the circuit is open: the arc's may hold as much of the same.
    PickUp {
        /// Its mean, A.
        open_a: f64,
    },
    /// What goes with the pulses of an alternating current is more, or less, than the arc's answer to their steps.
    PulsedWander {
        /// Wander without all of that, V rms.
        volts: f64,
        /// Wander without the answer to the steps, V rms.
        steps_v: f64,
    },
    /// A figure is empty, and nothing that was seen says why.
    Empty(Missing),
}

/// A figure that an arc of its kind has.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Missing {
    /// The run current.
    RunLevel,
    /// The instant it settled.
    Settling,
    /// The frequency of an alternating current.
    Frequency,
    /// The voltage's wander.
    Wander,
    /// The rise of the current.
    Rise,
}

/// What the second reading tells otherwise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum SecondReading {
    /// Whether an arc held.
    Lit,
    /// A count.
    Count {
        /// Of what.
        what: Counted,
        /// By the levels in force.
        first: usize,
        /// By others.
        second: usize,
    },
    /// When it opened or struck.
    Instant,
}

/// What is counted in a start.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Counted {
    /// Attempts.
    Attempts,
    /// Dropouts.
    Dropouts,
    /// Touches.
    Touches,
}

impl fmt::Display for SecondReading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SecondReading::Lit => write!(f, "whether it lit hangs on the levels it is read by"),
            SecondReading::Count {
                what,
                first,
                second,
            } => {
                let what = match what {
                    Counted::Attempts => "attempts",
                    Counted::Dropouts => "dropouts",
                    Counted::Touches => "touches",
                };
                write!(f, "{first} or {second} {what}, by the levels it is read by")
            }
            SecondReading::Instant => {
                write!(f, "its instants hang on the levels it is read by")
            }
        }
    }
}

impl fmt::Display for Missing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let figure = match self {
            Missing::RunLevel => "run current",
            Missing::Settling => "settled instant",
            Missing::Frequency => "AC frequency",
            Missing::Wander => "wander",
            Missing::Rise => "rise",
        };
        write!(
            f,
            "its {figure} could not be determined, and nothing that was seen says why"
        )
    }
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Doubt::Recording(finding) => write!(f, "{}", finding.seen),
            Doubt::Unexplained { explained_pct } => write!(
                f,
                "current and voltage make sense together for only {explained_pct:.1} % of its time"
            ),
            Doubt::TenTimesOff { run_a, set_a } => write!(
                f,
                "{run_a:.1} A where the run sheet sets {set_a:.0} A: the current's scale in [logger] is ten times off"
            ),
            Doubt::SecondReading(other) => write!(f, "{other}"),
            Doubt::NoRest => write!(
                f,
                "the current rests nowhere in the recording, so its zero and its noise are not known"
            ),
            Doubt::NoVoltage { amps, for_s } => {
                write!(
                    f,
                    "{amps:.1} A flow for {for_s:.2} s while the voltage is near zero"
                )
            }
            Doubt::NoCurrent { volts, for_s } => {
                write!(
                    f,
                    "an arc's voltage, {volts:.1} V, for {for_s:.2} s without current"
                )
            }
            Doubt::EitherLevel { low_a, high_a } => write!(
                f,
                "the current stands at {low_a:.0} A and at {high_a:.0} A for about half of the window each: which is the run level hangs on where the window ends"
            ),
            Doubt::NoMean { en_share_pct } => write!(
                f,
                "the current has no mean, though it is negative for {en_share_pct:.0} % of the time: as behind a high-pass, which moves its level"
            ),
            Doubt::Settling { from_s, to_s } => {
                write!(f, "it settled from {from_s:.3} s on at the earliest and ")?;
                match to_s {
                    Some(to_s) => write!(f, "{to_s:.3} s at the latest")?,
                    None => write!(f, "perhaps not in its window")?,
                }
                write!(f, ": noise, or few samples a half-cycle, leave it open")
            }
            Doubt::PickUp { open_a } => write!(
                f,
                "the trace shows {open_a:.2} A while the circuit is open: the arc's level may be off by as much"
            ),
            Doubt::PulsedWander { volts, steps_v } => write!(
                f,
                "the voltage wanders by {volts:.2} V, or by {steps_v:.2} V if only what goes with the steps of the pulsed current is the current's: the arc may wander at the pulse's frequency"
            ),
            Doubt::Empty(missing) => write!(f, "{missing}"),
            Doubt::ZeroStep { step_a } => write!(
                f,
                "the zero of the current moved by {step_a:.2} A from before the start to after it"
            ),
        }
    }
}

/// So far from ten times is ten times still: a knob is set by its scale, a pedal is not pressed to its end.
const TEN_TIMES: (f64, f64) = (7.0, 14.0);
/// A sine wave's crest is 1.4 times its rms, and more where the other half-cycle is lower: so is the wave of a tenth, and of ten times.
const TEN_CRESTS: (f64, f64) = (5.5, 18.0);

/// An alternating current has a mean where twice its share's distance from one half is this or more …
const UNEVEN: f64 = 0.022;
/// … and where less than this part of that mean is left, it has lost it: what a high-pass of 1.6 Hz leaves over a second, 1/2πf (closed form).
const NO_MEAN: f64 = 0.1;

impl Doubt {
    /// Whether a run current contradicts the one set by a slip of the decimal point. `alternates`: it is the rms of what may be set by
    /// its crest, which the other half-cycle need not reach.
    pub fn of_set_current(
        run_a: Option<f64>,
        set_a: Option<f64>,
        alternates: bool,
    ) -> Option<Doubt> {
        let (run_a, set_a) = (run_a?, set_a?);
        let (least, most) = if alternates { TEN_CRESTS } else { TEN_TIMES };
        let over = (least..=TEN_TIMES.1).contains(&(run_a / set_a));
        let under = (TEN_TIMES.0..=most).contains(&(set_a / run_a));
        (over || under).then_some(Doubt::TenTimesOff { run_a, set_a })
    }

    /// Whether an alternating current lacks the mean that its share of time electrode negative gives it: half-waves of shares b and 1 − b, as
    /// high as each other, have (2b − 1) of their height; a machine may make them uneven, but not just so that nothing is left.
    pub fn of_mean(
        dc_offset_a: Option<f64>,
        en_share_pct: Option<f64>,
        run_a: Option<f64>,
    ) -> Option<Doubt> {
        let (mean, en_share_pct) = (dc_offset_a?, en_share_pct?);
        let uneven = (0.02 * en_share_pct - 1.0).abs();
        let gone = uneven > UNEVEN && mean.abs() < NO_MEAN * uneven * run_a?;
        gone.then_some(Doubt::NoMean { en_share_pct })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 60 % at 100 A and 40 % at 100 A: a mean of 20 A. Behind a high-pass the half-waves are 80 A and 120 A high, and nothing is left (closed
    /// form); a machine that makes them 90 A and 110 A high keeps 10 A.
    #[test]
    fn uneven_half_waves_without_a_mean_are_a_doubt() {
        let doubt =
            |mean: f64, share: f64| Doubt::of_mean(Some(mean), Some(share), Some(100.0)).is_some();
        assert!(doubt(0.0, 60.0) && doubt(-1.9, 60.0) && doubt(0.1, 40.0));
        assert!(!doubt(20.0, 60.0) && !doubt(-10.0, 60.0));
        assert!(
            doubt(0.1, 51.3) && !doubt(0.0, 51.0),
            "nearly even half-waves have next to none"
        );
        assert_eq!(Doubt::of_mean(None, Some(60.0), Some(100.0)), None);
    }

    #[test]
    fn a_slip_of_the_decimal_point_is_a_doubt_and_a_pedal_is_none() {
        let doubt = |run_a: f64| Doubt::of_set_current(Some(run_a), Some(100.0), false).is_some();
        assert_eq!(
            [9.9, 60.0, 99.0, 980.0].map(doubt),
            [true, false, false, true]
        );
        assert_eq!(Doubt::of_set_current(None, Some(100.0), false), None);
        // A sine wave with a crest of 10 A has 7.07 A rms (closed form), a tenth of what 100 A of crest would have.
        let sine = |alternates| Doubt::of_set_current(Some(7.07), Some(100.0), alternates);
        assert!(sine(true).is_some() && sine(false).is_none());
        // Of a wave set to 61 A, 41.6 A rms that a shunt's scale makes ten times as much.
        let large = |alternates| Doubt::of_set_current(Some(416.0), Some(61.0), alternates);
        assert!(large(true).is_some() && large(false).is_none());
    }
}
