//! Amps by the work, and the balance on AC.

use crate::job::shielding::Metal;

/// One row of the work table: fillets, non-pulsed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WorkRow {
    /// Thickness, mm.
    pub mm: f64,
    /// Amps from, to.
    pub amps: (f64, f64),
}

/// How the work table is cited.
pub const WORK_SOURCE: &str = "Welder's Handbook (European gas supplier, e-edition), p. 41";

const fn row(mm: f64, from: f64, to: f64) -> WorkRow {
    WorkRow {
        mm,
        amps: (from, to),
    }
}

/// Welder's Handbook, p. 41: aluminium on AC.
#[rustfmt::skip]
pub static ALUMINIUM: [WorkRow; 4] = [row(1.6, 60.0, 80.0), row(3.2, 125.0, 145.0), row(4.8, 195.0, 230.0), row(6.0, 260.0, 295.0)];
/// The same page: stainless steel on DC electrode negative.
#[rustfmt::skip]
pub static STAINLESS: [WorkRow; 4] = [row(1.6, 50.0, 70.0), row(3.2, 85.0, 105.0), row(4.8, 120.0, 145.0), row(6.0, 165.0, 180.0)];
/// The same page: carbon steel on DC electrode negative.
#[rustfmt::skip]
pub static STEEL: [WorkRow; 4] = [row(1.6, 50.0, 70.0), row(3.2, 90.0, 120.0), row(4.8, 135.0, 175.0), row(6.0, 170.0, 200.0)];

/// Amps that the table gives a metal and a thickness; `None` for a metal it does not list.
///
/// Between two rows on the straight line; under the first row in proportion to the thickness
/// (this project's own reading); over the last row nothing is said.
pub fn amps_for_work(metal: Metal, mm: f64) -> Option<(f64, f64)> {
    let rows = match metal {
        Metal::Aluminium => &ALUMINIUM,
        Metal::Stainless => &STAINLESS,
        Metal::Steel => &STEEL,
        _ => return None,
    };
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    if mm <= first.mm {
        let part = mm / first.mm;
        return Some((part * first.amps.0, part * first.amps.1));
    }
    if mm > last.mm {
        return None;
    }
    let pair = rows.windows(2).find(|pair| mm <= pair[1].mm)?;
    let part = (mm - pair[0].mm) / (pair[1].mm - pair[0].mm);
    let between = |a: f64, b: f64| a + part * (b - a);
    Some((
        between(pair[0].amps.0, pair[1].amps.0),
        between(pair[0].amps.1, pair[1].amps.1),
    ))
}

/// Over this multiple of the table the amps burn through (this project's own number: fillets take
/// more than edges, and a welder may move fast).
pub const WORK_HIGH: f64 = 1.6;
/// Under this part of the table the amps make no pool (this project's own number).
pub const WORK_LOW: f64 = 0.4;

/// Electrode-negative share that welders run on AC, percent (common practice, no source).
pub const USUAL_EN_PCT: (f64, f64) = (68.0, 70.0);

/// How the balance is cited: a default of 65 %, and 65–70 % as usual for aluminium.
pub const BALANCE_SOURCE: &str = "manual 2448104, p. 31 (65 % from the works); manual of a 275 A multi-process machine, p. 91 (65–70 %; at 50 % the tip balls)";

/// Under this share of electrode negative the balance stands at the cleaning end, percent.
///
/// This project's own line: well under the 65 % that a machine comes set to.
pub const CLEANING_END_PCT: f64 = 60.0;
/// Under this share the tip melts back while it is being tested, percent (this project's own line).
pub const MELTING_END_PCT: f64 = 45.0;
/// Over this share little cleaning is left, percent (this project's own line).
pub const LITTLE_CLEANING_PCT: f64 = 80.0;
