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
