//! What is common to both channels of a recording: rates, and what the machine does when.

/// What is common to both channels of a recording.
pub(super) struct Setting<'a> {
    pub rate_hz: f64,
    pub mains_hz: f64,
    /// Instants of the ignition bursts, s.
    pub bursts_s: &'a [f64],
    /// From when to when the machine is on, s.
    pub on_s: &'a [(f64, f64)],
    /// From when to when an arc burns, s.
    pub arcs_s: &'a [(f64, f64)],
    pub bits: Option<u32>,
}
