//! What a rehearsal tells, as data.

use serde::Serialize;

use crate::job::Rehearsed;
use crate::measure::Measure;
use crate::rehearsal::lay::Cause;

/// A share with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Part {
    /// How many …
    pub count: usize,
    /// … of this many.
    pub of: usize,
    /// Interval of the share (Clopper & Pearson 1934), lower end.
    pub lo: f64,
    /// Upper end.
    pub hi: f64,
}

/// Starts found in rest, where nobody made one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FalseStarts {
    /// How many.
    pub count: usize,
    /// In this much rest, s.
    pub rest_s: f64,
    /// An hour.
    pub per_hour: f64,
    /// Upper end of that rate's interval (Garwood 1936).
    pub per_hour_hi: f64,
}

/// Bias and limits of agreement of a measure, each with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Spread {
    /// Pairs.
    pub n: usize,
    /// Mean of measured less true.
    pub bias: f64,
    /// Lower end of its interval.
    pub bias_lo: f64,
    /// Upper end.
    pub bias_hi: f64,
    /// Standard deviation of the differences.
    pub sd: f64,
    /// Lower limit of agreement.
    pub lo: f64,
    /// Its interval.
    pub lo_lo: f64,
    /// Upper end of that.
    pub lo_hi: f64,
    /// Upper limit of agreement.
    pub hi: f64,
    /// Its interval.
    pub hi_lo: f64,
    /// Upper end of that.
    pub hi_hi: f64,
}

impl Spread {
    /// Root mean square of the differences.
    pub fn rms(&self) -> f64 {
        self.bias.hypot(self.sd)
    }

    /// How far a reading may lie from the truth in 95 of 100 starts: the farther limit.
    pub fn reach(&self) -> f64 {
        self.lo.abs().max(self.hi.abs())
    }
}

/// What most of a measure's error comes from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Worst {
    /// The cause.
    pub cause: Cause,
    /// The measure's spread without it.
    pub without: Spread,
    /// And with it, on the same starts.
    pub with: Spread,
}

/// How a measure came out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasureSpread {
    /// The measure.
    pub measure: Measure,
    /// By this logger.
    #[serde(flatten)]
    pub spread: Spread,
    /// By a logger of this rate that adds nothing.
    pub clean: Option<Spread>,
    /// The one thing without which it would be better by a fifth or more; none where nothing stands out.
    pub worst: Option<Worst>,
}

/// How a count came out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CountRight {
    /// The measure.
    pub measure: Measure,
    /// Starts whose count is right.
    pub right: Part,
}

/// From which size on something shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Shows {
    /// From here on at least 95 of 100 were found; `None` where they never were.
    pub from: Option<f64>,
    /// Smallest and largest that were made.
    pub made: (f64, f64),
    /// Found among those from there on.
    pub found: Option<Part>,
}

/// The smallest difference of a measure that a plan shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Smallest {
    /// The measure.
    pub measure: Measure,
    /// The usual value it is given at.
    pub at: f64,
    /// If starts differ as those of the recordings do; `None` where these are too few to tell.
    pub see: Option<f64>,
    /// If starts did not differ at all: what the logger alone allows.
    pub logger_alone: f64,
    /// Share of the variance between starts that is the logger's; `None` likewise.
    pub logger_share: Option<f64>,
}

/// The smallest difference of rough rates that a plan shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SmallestRate {
    /// The rate it is given at.
    pub at: f64,
    /// The rate that is told from it; `None` where not even 100 % would be.
    pub from: Option<f64>,
    /// Share of rough starts that are taken for others, by the rehearsal.
    pub missed: f64,
    /// Share of others that are taken for rough.
    pub invented: f64,
}

/// A made start for the figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dot {
    /// The measure.
    pub measure: Measure,
    /// True value.
    pub truth: f64,
    /// Measured value.
    pub measured: f64,
}

/// What was made, and of which recordings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Of {
    /// Recordings that lent their rest.
    pub recordings: Vec<String>,
    /// Rest borrowed of them, s.
    pub rest_s: f64,
    /// Open circuits borrowed.
    pub opens: usize,
    /// Samples a second.
    pub rate_hz: f64,
    /// Whether there is a voltage trace.
    pub voltage: bool,
    /// `dc`, `dcep`, `ac` or `pulse`.
    pub process: &'static str,
    /// Run level of the made starts, A.
    pub run_a: f64,
    /// Steps of the logger, A and V; 0 where none shows.
    pub steps: [f64; 2],
    /// Noise at rest, A and V rms.
    pub noise: [f64; 2],
    /// Hum at rest, A and V, amplitude of the strongest harmonic.
    pub hum: [f64; 2],
}

/// What a rehearsal tells.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Rehearsal {
    /// What a job that names this file takes from it.
    #[serde(flatten)]
    pub rehearsed: Rehearsed,
    /// Seed.
    pub seed: u64,
    /// Level of the intervals.
    pub level: f64,
    /// Starts made, those of small current too.
    pub made: usize,
    /// What was made, and of which recordings.
    pub of: Of,
    /// What speaks against the recordings themselves: made starts know nothing of it.
    pub said: Vec<String>,
    /// Made starts that were found, each as one start and lit or not as it was.
    pub found: Part,
    /// Found ones that were doubtful, and so count in no answer.
    pub doubtful: Part,
    /// Starts found in rest.
    pub false_starts: FalseStarts,
    /// Every measure with a value in a unit.
    pub measures: Vec<MeasureSpread>,
    /// Every count.
    pub counts: Vec<CountRight>,
    /// Smallest current that shows, A.
    pub smallest_current_a: Shows,
    /// Shortest dropout that shows, ms.
    pub shortest_dropout_ms: Shows,
    /// Tips of each prep that the answer is for.
    pub tips: u64,
    /// Starts on each.
    pub per_tip: u64,
    /// Smallest differences of measures.
    pub smallest: Vec<Smallest>,
    /// Smallest difference of rough rates; none where too few made starts count.
    pub smallest_rate: Option<SmallestRate>,
    /// Truth against measured.
    #[serde(skip)]
    pub dots: Vec<Dot>,
}
