//! The range of amps that the tables give a diameter, by class, polarity and balance.

use crate::fit::concern::Basis;
use crate::fit::tables::{
    BALANCED_PCT, COMPOSITE, CURRENT_TABLES, CurrentTable, POSITIVE_PART, RangeColumn,
    UNBALANCED_PCT, ZIRCONIUM_4_8,
};
use crate::job::electrode::{Class, Oxide};
use crate::job::run::Process;

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
