//! What a session shows, whichever view shows it.

use crate::error::Result;
use crate::score::Verdict;

/// What shows a session.
pub trait View {
    /// Shows how it stands.
    ///
    /// # Errors
    /// The terminal went away.
    fn show(&mut self, shown: &Shown) -> Result<()>;
}

/// What is shown of a session.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shown {
    /// The job.
    pub title: String,
    /// The recording, and how long it is.
    pub recording: String,
    /// What to strike next, in letters for the distance; `None` where all is struck.
    pub large: Option<String>,
    /// The same in a line.
    pub next: Option<String>,
    /// How to grind before.
    pub grind: Option<String>,
    /// The last start.
    pub last: Option<Last>,
    /// Where it stands.
    pub stands: String,
    /// The comparison is settled.
    pub enough: bool,
    /// What the last key did.
    pub note: Option<String>,
    /// Waiting for the next start; until then the recording is being read.
    pub listening: bool,
}

/// The last start.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Last {
    /// Number in the recording, from 1.
    pub number: usize,
    /// Its verdict, in letters for the distance.
    pub large: String,
    /// What was measured.
    pub says: String,
    /// Its verdict, for the colour; `None` where it is set aside.
    pub verdict: Option<Verdict>,
}
