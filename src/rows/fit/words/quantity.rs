//! Quantities in words: amps, lengths, and what a range is for.

use crate::fit::concern::Basis;
use crate::format::trimmed;
use crate::job::run::Process;

/// A range of amps.
pub(super) fn amps_range(amps: (f64, f64)) -> String {
    match amps.0 {
        from if from >= 0.5 => format!("{from:.0}–{:.0} A", amps.1),
        _ => format!("up to {:.0} A", amps.1),
    }
}

/// A number that somebody chose, with its unit.
pub(super) fn amps(value: f64) -> String {
    format!("{} A", trimmed(value))
}

/// A length in millimetres.
pub(super) fn mm(value: f64) -> String {
    format!("{} mm", trimmed(value))
}

/// Polarity, balance and kind of tungsten that a range is for.
pub(super) fn basis(basis: &Basis) -> String {
    let current = match (basis.process, basis.en_pct) {
        (Process::Dc, _) => "DC electrode negative".to_owned(),
        (Process::Dcep, _) => return "DC electrode positive".to_owned(),
        (Process::Ac, Some(pct)) => format!("AC at {} % electrode negative", trimmed(pct)),
        (Process::Ac, None) => "AC with more negative than positive".to_owned(),
    };
    let tungsten = if basis.pure {
        "pure tungsten"
    } else {
        "tungsten with oxide"
    };
    format!("{current}, {tungsten}")
}
