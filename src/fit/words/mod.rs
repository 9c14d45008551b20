//! Findings become sentences: the one place where they are made.

mod cause;
mod concern;
mod seen;
mod source;
mod way_out;

use crate::fit::concern::{Basis, Concern};
use crate::fit::edit::Edit;
use crate::fit::finding::Remark;
use crate::format::trimmed;
use crate::job::run::Process;

pub(super) use seen::of_seen;

/// The sentences of a concern.
pub(super) fn of_concern(concern: &Concern, ways: &[Vec<Edit>]) -> Remark {
    Remark {
        what: concern::what(concern),
        why: concern::why(concern),
        source: source::of(concern),
        to_try: way_out::to_try(concern, ways),
    }
}

/// A range of amps.
fn amps_range(amps: (f64, f64)) -> String {
    match amps.0 {
        from if from >= 0.5 => format!("{from:.0}–{:.0} A", amps.1),
        _ => format!("up to {:.0} A", amps.1),
    }
}

/// A number that somebody chose, with its unit.
fn amps(value: f64) -> String {
    format!("{} A", trimmed(value))
}

/// A length in millimetres.
fn mm(value: f64) -> String {
    format!("{} mm", trimmed(value))
}

/// Polarity, balance and kind of tungsten that a range is for.
fn basis(basis: &Basis) -> String {
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
