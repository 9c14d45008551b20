//! Why the reading of a start cannot be trusted, and what a recording's own flags mean for its starts.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::flag::Flag;
use crate::job::Process;
use crate::recording::Finding;
use crate::start::Start;

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
        /// By so much, A.
        step_a: f64,
    },
    /// The trace shows current while the circuit is open: the arc's may hold as much of the same.
    PickUp {
        /// Its mean, A.
        open_a: f64,
    },
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
            Doubt::PickUp { open_a } => write!(
                f,
                "the trace shows {open_a:.2} A while the circuit is open: the arc's level may be off by as much"
            ),
            Doubt::ZeroStep { step_a } => write!(
                f,
                "the zero of the current moved by {step_a:.2} A from before the start to after it"
            ),
        }
    }
}

/// So far from ten times is ten times still: a knob is set by its scale, a pedal is not pressed to its end.
const TEN_TIMES: (f64, f64) = (7.0, 14.0);

impl Doubt {
    /// Whether a run current contradicts the one set by a slip of the decimal point.
    pub fn of_set_current(run_a: Option<f64>, set_a: Option<f64>) -> Option<Doubt> {
        let (run_a, set_a) = (run_a?, set_a?);
        let times = (run_a / set_a).max(set_a / run_a);
        let off = (TEN_TIMES.0..=TEN_TIMES.1).contains(&times);
        off.then_some(Doubt::TenTimesOff { run_a, set_a })
    }
}

impl Start {
    /// Marks the start as doubtful; the same doubt counts once.
    pub(crate) fn doubt(&mut self, doubt: Doubt) {
        if !self.doubts.contains(&doubt) {
            self.doubts.push(doubt);
        }
        self.flag(Flag::Doubtful);
    }

    /// Adds a flag, keeping them sorted, each once.
    pub(crate) fn flag(&mut self, flag: Flag) {
        if let Err(place) = self.flags.binary_search(&flag) {
            self.flags.insert(place, flag);
        }
    }

    /// Carries the flags of what was found about its recording, as far as that reaches into its time, s.
    pub(crate) fn carry(
        &mut self,
        findings: &[Finding],
        (from_s, to_s): (f64, f64),
        process: Option<Process>,
    ) {
        let reaches = |(on, off): &(f64, f64)| *on <= to_s && *off >= from_s;
        for finding in findings.iter().filter(|f| f.speaks_against(process)) {
            if !finding.spans_s.is_empty() && !finding.spans_s.iter().any(reaches) {
                continue;
            }
            self.flag(finding.flag);
            if finding.spoils_starts() {
                self.doubt(Doubt::Recording(finding.clone()));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::Seen;

    fn carried(finding: Finding, process: Option<Process>) -> Start {
        let mut start = Start {
            instants: Default::default(),
            measures: Default::default(),
            flags: vec![Flag::Retry],
            doubts: Vec::new(),
            preview: None,
        };
        start.carry(&[finding], (10.0, 12.0), process);
        start
    }

    #[test]
    fn a_finding_reaches_the_starts_where_it_has_its_place() {
        let rows = |spans: &[(f64, f64)]| {
            let finding = Finding::within(Seen::OverRange { rows: 3 }, spans.to_vec());
            carried(finding, None).flags.contains(&Flag::Clipped)
        };
        assert!(rows(&[]) && rows(&[(1.0, 2.0), (11.9, 14.0)]));
        assert!(!rows(&[(1.0, 9.9), (12.1, 14.0)]));
    }

    #[test]
    fn an_arc_on_the_positive_electrode_is_a_fault_on_dc_only() {
        let flags = |process: Option<Process>| {
            carried(
                Finding::new(Seen::ElectrodePositive { amps: 80.0 }),
                process,
            )
            .flags
        };
        for process in [None, Some(Process::Dc)] {
            assert_eq!(flags(process), [Flag::Polarity, Flag::Retry]);
        }
        for process in [Process::Dcep, Process::Ac] {
            assert_eq!(flags(Some(process)), [Flag::Retry]);
        }
    }

    #[test]
    fn what_spoils_a_recording_makes_its_starts_doubtful_once() {
        let swapped = Finding::new(Seen::Swapped {
            volts_pct: 1.0,
            amps_pct: 20.0,
        });
        let mut start = carried(swapped.clone(), None);
        start.carry(std::slice::from_ref(&swapped), (10.0, 12.0), None);
        assert_eq!(
            start.flags,
            [Flag::Doubtful, Flag::ChannelsSwapped, Flag::Retry]
        );
        assert_eq!(start.doubts, [Doubt::Recording(swapped)]);
        let restored = carried(Finding::new(Seen::Restored { corner_hz: 2.0 }), None);
        assert!(restored.doubts.is_empty());
    }

    #[test]
    fn a_slip_of_the_decimal_point_is_a_doubt_and_a_pedal_is_none() {
        let doubt = |run_a: f64| Doubt::of_set_current(Some(run_a), Some(100.0)).is_some();
        assert_eq!(
            [9.9, 60.0, 99.0, 980.0].map(doubt),
            [true, false, false, true]
        );
        assert_eq!(Doubt::of_set_current(None, Some(100.0)), None);
    }
}
