//! The current against class, diameter, polarity and balance.

use crate::fit::case::Case;
use crate::fit::concern::{Basis, Concern};
use crate::fit::range::ranges;
use crate::fit::tables::{COMPOSITE, LOWEST_ON_AC, RangeColumn, TipRow};
use crate::job::run::Process;

/// The amps set against the range of the diameter.
pub(super) fn amps_for_electrode(case: &Case) -> Option<Concern> {
    let (amps, diameter) = (case.run.set_a?, case.prep.diameter?);
    let basis = case.basis();
    let size_mm = match case.prep.size_mm() {
        Some(size_mm) => size_mm,
        None => return Some(Concern::SizeNotListed { mm: diameter.mm() }),
    };
    // Whether positive was meant comes before how much it carries.
    if basis.process == Process::Dcep && positive(case).is_some() {
        return None;
    }
    let tables = ranges(case.prep.class, size_mm, &basis);
    let Some((_, speaks)) = tables.first() else {
        return Some(Concern::NoRange { size_mm, basis });
    };
    if amps > speaks.1 {
        return Some(Concern::OverRange {
            amps,
            size_mm,
            basis,
            tables,
        });
    }
    let lowest_a = lowest(size_mm, &basis, &tables);
    (amps < lowest_a).then_some(Concern::UnderRange {
        amps,
        size_mm,
        basis,
        lowest_a,
    })
}

/// The fewest amps that any table gives the diameter: current, tip and work tables.
fn lowest(size_mm: f64, basis: &Basis, tables: &[(&'static str, (f64, f64))]) -> f64 {
    let other = match basis.process {
        Process::Dc => TipRow::lowest(size_mm),
        Process::Ac => LOWEST_ON_AC
            .iter()
            .find(|row| row.0 == size_mm)
            .map(|row| row.1),
        Process::Dcep => None,
    };
    let listed = tables.iter().map(|(_, range)| range.0);
    listed.chain(other).fold(f64::INFINITY, f64::min)
}

/// Electrode positive: asked about first, unless the work is cleaned by it and the electrode carries it.
pub(super) fn positive(case: &Case) -> Option<Concern> {
    if case.process() != Process::Dcep {
        return None;
    }
    let (metal, amps) = (case.metal, case.run.set_a);
    let top = match case.prep.size_mm() {
        Some(size_mm) => COMPOSITE
            .range(size_mm, RangeColumn::Dcep)
            .map(|range| range.1),
        None => None,
    };
    let over = matches!((amps, top), (Some(amps), Some(top)) if amps > top);
    let cleaned = metal.is_some_and(|metal| metal.needs_cleaning());
    (!cleaned || over).then_some(Concern::Positive { metal, amps, over })
}

/// Without amps nothing can be held against a range.
pub(super) fn no_amps(case: &Case) -> Option<Concern> {
    case.run.set_a.is_none().then_some(Concern::NoAmps)
}
