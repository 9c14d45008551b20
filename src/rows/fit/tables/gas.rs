//! Argon flow, cups, stick-out and arc gap.

use crate::fit::tables::holds;

/// One row of the cup table: what goes with an electrode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CupRow {
    /// Trade size, mm.
    pub mm: f64,
    /// Amps on DC, from, to.
    pub dc: (f64, f64),
    /// Amps on AC, from, to.
    pub ac: (f64, f64),
    /// Cup numbers.
    pub cups: &'static [f64],
    /// Argon, l/min, from, to.
    pub lpm: (f64, f64),
}

/// How the cup table is cited.
pub const CUP_SOURCE: &str = "manual 3617104 of a TIG torch, p. 7";

macro_rules! cups {
    ($mm:literal $dc:expr, $ac:expr, $cups:expr, $lpm:expr) => {
        CupRow {
            mm: $mm,
            dc: $dc,
            ac: $ac,
            cups: &$cups,
            lpm: $lpm,
        }
    };
}

/// Manual 3617104 of a TIG torch, p. 7, "given only as a guide".
#[rustfmt::skip]
pub static CUPS: [CupRow; 5] = [
    cups!(1.0 (5.0, 80.0),    (5.0, 50.0),    [4.0, 5.0],         (5.0, 6.0)),
    cups!(1.6 (70.0, 150.0),  (30.0, 100.0),  [4.0, 5.0, 6.0],    (6.0, 7.0)),
    cups!(2.4 (130.0, 250.0), (80.0, 150.0),  [6.0, 7.0],         (7.0, 8.0)),
    cups!(3.2 (220.0, 350.0), (120.0, 210.0), [7.0, 8.0, 10.0],   (8.0, 10.0)),
    cups!(4.0 (330.0, 500.0), (180.0, 280.0), [10.0, 11.0, 12.0], (10.0, 12.0)),
];

/// Manual IM528-B, p. 41: cup numbers by electrode, from, to.
pub static CUPS_2: [(f64, f64, f64); 3] = [(1.6, 5.0, 6.0), (2.4, 6.0, 8.0), (4.0, 8.0, 10.0)];

/// How the second cup table is cited.
pub const CUP_SOURCE_2: &str = "manual IM528-B, p. 41";

/// The smallest and the largest cup number that either table gives a trade size.
pub fn cups_for(size_mm: f64) -> Option<(f64, f64)> {
    let first = CUPS.iter().find(|row| row.mm == size_mm)?;
    let (mut low, mut high) = (first.cups[0], first.cups[first.cups.len() - 1]);
    if let Some(second) = CUPS_2.iter().find(|row| row.0 == size_mm) {
        (low, high) = (low.min(second.1), high.max(second.2));
    }
    Some((low, high))
}

/// The least argon that the work table gives, l/min (Welder's Handbook, p. 41: 1.6 mm, 50–80 A).
pub const LEAST_LPM: f64 = 5.0;

/// Argon, l/min: by the cup where it is known and listed, else by the amps, else what any row lists.
pub fn argon_lpm(cup: Option<f64>, amps: Option<f64>, ac: bool) -> (f64, f64) {
    let span = |rows: Vec<&CupRow>| {
        let low = rows.iter().map(|row| row.lpm.0).reduce(f64::min)?;
        let high = rows.iter().map(|row| row.lpm.1).reduce(f64::max)?;
        Some((low, high))
    };
    let by_cup = cup.and_then(|n| span(CUPS.iter().filter(|row| row.cups.contains(&n)).collect()));
    let fits = |row: &&CupRow, a| holds(if ac { row.ac } else { row.dc }, a);
    let by_amps = || amps.and_then(|a| span(CUPS.iter().filter(|row| fits(row, a)).collect()));
    let (low, high) = by_cup.or_else(by_amps).unwrap_or((LEAST_LPM, 12.0));
    // The work table gets along with 5 l/min up to 120 A.
    match amps.is_none_or(|a| a <= 120.0) {
        true => (low.min(LEAST_LPM), high),
        false => (low, high),
    }
}

/// A flow under this part of the range's lower end is too little (this project's own number).
pub const FLOW_LOW: f64 = 0.8;
/// A flow over this multiple of the range's upper end is too much (this project's own number).
pub const FLOW_HIGH: f64 = 1.8;

/// Helium is ten times lighter than argon, so it takes about twice the flow (common practice, no source).
pub const HELIUM_FLOW: f64 = 2.0;
/// With helium a range written for argon is trusted up to this part of it (this project's own number).
pub const HELIUM_PART: f64 = 0.8;
/// Who says that argon's ranges are too high for helium.
pub const HELIUM_SOURCE: &str = "manual IM528-B, p. 41, note 1";

/// Stick-out in diameters: usual, and the most with a gas lens out of draughts
/// (gas supplier's guide, p. 24: [`super::TIP_SOURCE`]).
pub const STICKOUT: (f64, f64) = (3.0, 6.0);

/// The longest arc gap for a strike, mm (common practice, no source: about one diameter, under 3 mm).
pub fn longest_gap_mm(diameter_mm: Option<f64>) -> f64 {
    diameter_mm.map_or(3.0, |d| (1.5 * d).clamp(1.5, 3.0))
}

/// A gap under this is a touch waiting to happen, mm (this project's own number).
pub const SHORTEST_GAP_MM: f64 = 0.5;

/// Post-flow, s: 1 s for each 10 A, at least 8 s (common practice, no source).
pub fn post_flow_s(amps: Option<f64>) -> f64 {
    amps.map_or(8.0, |a| (a / 10.0).max(8.0))
}
