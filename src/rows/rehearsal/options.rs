//! How to rehearse.

/// How to rehearse.
#[derive(Debug, Clone, PartialEq)]
pub struct RehearseOptions {
    /// Starts to make, rounded up to whole rounds of ten.
    pub starts: usize,
    /// Fixes every random number.
    pub seed: u64,
    /// Level of the intervals.
    pub level: f64,
    /// Tips of each prep; those of the job where not given.
    pub tips: Option<u64>,
    /// Starts on each tip, likewise.
    pub per_tip: Option<u64>,
    /// Current of the made starts, A; that of the recordings where not given.
    pub amps: Option<f64>,
    /// Rest that is looked for false starts, besides that between made starts, s.
    pub rest_s: f64,
}

impl Default for RehearseOptions {
    fn default() -> Self {
        RehearseOptions {
            starts: 200,
            seed: 1,
            level: 0.95,
            tips: None,
            per_tip: None,
            amps: None,
            rest_s: 480.0,
        }
    }
}
