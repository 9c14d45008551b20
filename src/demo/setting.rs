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

/// When the machine is on and no arc burns, s.
pub fn open_s(on_s: &[(f64, f64)], arcs_s: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut open = Vec::new();
    for &(on, off) in on_s {
        let mut from = on;
        // An arc may burn on for a moment after the machine is off.
        for arc in arcs_s.iter().filter(|a| a.0 < off && a.1 > on) {
            open.push((from, arc.0));
            from = arc.1;
        }
        open.push((from, off));
    }
    open.retain(|(from, to)| to > from);
    open
}
