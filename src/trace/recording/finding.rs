//! What was found about a recording: a flag, what was seen, and where in the recording it holds.

use serde::{Deserialize, Serialize, Serializer};

use crate::flag::Flag;
use crate::job::Process;
use crate::recording::seen::{Polarity, Seen};

/// A flag together with what was seen there.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// The flag.
    pub flag: Flag,
    /// What was seen; its `Display` is one short sentence with numbers and units.
    pub seen: Seen,
    /// Where in the recording, s from its first sample; empty: all of it.
    pub spans_s: Vec<(f64, f64)>,
}

/// A helium arc stands under this many times the load line (common practice, no source: by half over an argon arc's volts and more).
const HELIUM: f64 = 2.0;

impl Finding {
    /// A finding that concerns the whole recording.
    pub fn new(seen: Seen) -> Finding {
        Finding {
            flag: seen.flag(),
            seen,
            spans_s: Vec::new(),
        }
    }

    /// A finding that concerns parts of the recording.
    pub fn within(seen: Seen, spans_s: Vec<(f64, f64)>) -> Finding {
        Finding {
            spans_s,
            ..Finding::new(seen)
        }
    }

    /// Whether it is a fault under a run sheet that names this process, and a gas with helium or without: electrode positive is what
    /// `dcep` asks for, and on AC an arc may begin with it; helium takes an arc over the load line.
    pub fn speaks_against(&self, process: Option<Process>, helium: bool) -> bool {
        match self.seen {
            Seen::Polarity(Polarity::ElectrodePositive { .. }) => {
                !matches!(process, Some(Process::Dcep | Process::Ac))
            }
            Seen::OffLoadLine { volts, line_v, .. } => {
                !(helium && (line_v..HELIUM * line_v).contains(&volts))
            }
            _ => true,
        }
    }

    /// Whether the starts it reaches cannot be measured rightly.
    pub fn spoils_starts(&self) -> bool {
        matches!(
            self.seen,
            Seen::Coupled { .. }
                | Seen::Sagging { .. }
                | Seen::Swapped { .. }
                | Seen::OffLoadLine { .. }
        )
    }

    /// For JSON that people's programs read: the flag and the sentence.
    pub(crate) fn in_words<S: Serializer>(
        found: &[Finding],
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        #[derive(Serialize)]
        struct Words {
            flag: Flag,
            seen: String,
        }
        serializer.collect_seq(found.iter().map(|f| Words {
            flag: f.flag,
            seen: f.seen.to_string(),
        }))
    }
}
