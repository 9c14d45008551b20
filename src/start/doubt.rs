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
