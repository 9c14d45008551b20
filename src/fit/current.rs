//! The current against class, diameter, polarity and balance.

use crate::fit::case::Case;
use crate::fit::concern::{Basis, Concern};
use crate::fit::tables::{
    BALANCED_PCT, COMPOSITE, CURRENT_TABLES, CurrentTable, LOWEST_ON_AC, POSITIVE_PART,
    RangeColumn, TipRow, UNBALANCED_PCT, ZIRCONIUM_4_8,
};
use crate::job::electrode::{Class, Oxide};
use crate::job::run::Process;

/// What decides the range of a diameter.
pub(super) fn basis(case: &Case) -> Basis {
    Basis {
        process: case.process(),
        pure: case.is(Oxide::None),
        en_pct: case.run.set_en_pct.filter(|_| case.on_ac()),
    }
}

/// The tables that list a case, each with its range; the first speaks.
pub(super) fn ranges(
    class: Option<&Class>,
    size_mm: f64,
    basis: &Basis,
) -> Vec<(&'static str, (f64, f64))> {
    CURRENT_TABLES
        .iter()
        .filter_map(|table| Some((table.source, range_in(table, class, size_mm, basis)?)))
        .collect()
}

/// Where the range of a diameter ends, A: by the table that speaks.
pub(super) fn top_of(class: Option<&Class>, size_mm: f64, basis: &Basis) -> Option<f64> {
    let mut ranges = CURRENT_TABLES
        .iter()
        .filter_map(|table| range_in(table, class, size_mm, basis));
    ranges.next().map(|range| range.1)
}

/// Where the range of the case's own diameter ends, A.
pub(super) fn top_a(case: &Case) -> Option<f64> {
    top_of(case.prep.class, case.prep.size_mm()?, &basis(case))
}

fn range_in(
    table: &CurrentTable,
    class: Option<&Class>,
    size_mm: f64,
    basis: &Basis,
) -> Option<(f64, f64)> {
    let get = |column| cell(table, class, size_mm, column);
    use RangeColumn::*;
    match (basis.process, basis.pure) {
        (Process::Dc, true) => get(DcenPure),
        (Process::Dc, false) => get(DcenOxide),
        (Process::Dcep, _) => get(Dcep),
        (Process::Ac, pure) => {
            let (balanced, unbalanced) = match pure {
                true => (get(AcBalancedPure)?, get(AcUnbalancedPure)?),
                false => (get(AcBalancedOxide)?, get(AcUnbalancedOxide)?),
            };
            Some(at_balance(size_mm, balanced, unbalanced, basis.en_pct))
        }
    }
}

/// The range at a balance: positive heats the tungsten, so with more of it the range falls, toward
/// the one for DC electrode positive. Without a share written down: machines come set to more
/// negative than positive.
fn at_balance(
    size_mm: f64,
    balanced: (f64, f64),
    unbalanced: (f64, f64),
    en_pct: Option<f64>,
) -> (f64, f64) {
    let part_of = |a: (f64, f64), b: (f64, f64), part: f64| {
        (a.0 + part * (b.0 - a.0), a.1 + part * (b.1 - a.1))
    };
    let positive = COMPOSITE
        .range(size_mm, RangeColumn::Dcep)
        .unwrap_or((POSITIVE_PART * balanced.0, POSITIVE_PART * balanced.1));
    match en_pct.unwrap_or(UNBALANCED_PCT) {
        en if en < BALANCED_PCT.0 => part_of(positive, balanced, en / BALANCED_PCT.0),
        en if en <= BALANCED_PCT.1 => balanced,
        en if en < UNBALANCED_PCT => {
            let part = (en - BALANCED_PCT.1) / (UNBALANCED_PCT - BALANCED_PCT.1);
            part_of(balanced, unbalanced, part)
        }
        _ => unbalanced,
    }
}

/// One cell; zirconium has one to itself.
fn cell(
    table: &CurrentTable,
    class: Option<&Class>,
    size_mm: f64,
    column: RangeColumn,
) -> Option<(f64, f64)> {
    let zirconium = class.is_some_and(|c| c.oxide == Oxide::Zirconium);
    let own = zirconium && size_mm == 4.8 && column == RangeColumn::AcUnbalancedOxide;
    let range = table.range(size_mm, column)?;
    match own && std::ptr::eq(table, &COMPOSITE) {
        true => Some(ZIRCONIUM_4_8),
        false => Some(range),
    }
}

/// The amps set against the range of the diameter.
pub(super) fn amps_for_electrode(case: &Case) -> Option<Concern> {
    let (amps, diameter) = (case.run.set_a?, case.prep.diameter?);
    let basis = basis(case);
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
