//! The current against class, diameter and polarity.

use crate::fit::tables::{
    COMPOSITE, CURRENT_TABLES, CurrentTable, Habit, RangeColumn, TipRow, ZIRCONIUM_4_8,
};
use crate::fit::{Case, Level, Remark, holds, range};
use crate::job::electrode::{Class, Oxide, SIZES_MM};
use crate::job::prep::Prep;
use crate::job::run::Process;

/// Electrode-negative shares that count as balanced in the tables, percent.
const BALANCED_PCT: (f64, f64) = (45.0, 55.0);

/// The column of the current tables that a case falls under.
pub(super) fn column(prep: &Prep, case: &Case) -> RangeColumn {
    let pure = prep.class.is_some_and(|class| class.oxide == Oxide::None);
    // Without a share written down: machines come set to more negative than positive.
    let balanced = case.set_en_pct.is_some_and(|pct| holds(BALANCED_PCT, pct));
    match (case.process, pure, balanced) {
        (Process::Dc, true, _) => RangeColumn::DcenPure,
        (Process::Dc, false, _) => RangeColumn::DcenOxide,
        (Process::Dcep, _, _) => RangeColumn::Dcep,
        (Process::Ac, true, true) => RangeColumn::AcBalancedPure,
        (Process::Ac, true, false) => RangeColumn::AcUnbalancedPure,
        (Process::Ac, false, true) => RangeColumn::AcBalancedOxide,
        (Process::Ac, false, false) => RangeColumn::AcUnbalancedOxide,
    }
}

/// What a table gives for a class, a trade size and a column.
fn listed(
    table: &CurrentTable,
    class: Option<&Class>,
    size: f64,
    column: RangeColumn,
) -> Option<(f64, f64)> {
    let zirconium = class.is_some_and(|c| c.oxide == Oxide::Zirconium);
    let own_cell = size == 4.8 && column == RangeColumn::AcUnbalancedOxide;
    let range = table.range(size, column)?;
    match zirconium && own_cell && std::ptr::eq(table, &COMPOSITE) {
        true => Some(ZIRCONIUM_4_8),
        false => Some(range),
    }
}

/// The tables that list a case, each with its range; the first speaks.
pub(super) fn ranges(prep: &Prep, column: RangeColumn) -> Vec<(&'static str, (f64, f64))> {
    let Some(size) = prep.size_mm() else {
        return Vec::new();
    };
    CURRENT_TABLES
        .iter()
        .filter_map(|table| Some((table.source, listed(table, prep.class, size, column)?)))
        .collect()
}

/// The current under or over the range for the class, the diameter and the polarity.
pub(super) fn amps_for_electrode(prep: &Prep, case: &Case) -> Option<Remark> {
    let (amps, diameter) = (case.set_a?, prep.diameter?);
    let column = column(prep, case);
    let Some(size) = prep.size_mm() else {
        return Some(not_a_listed_size(diameter.mm(), column));
    };
    let ranges = ranges(prep, column);
    let Some(&(_, speaks)) = ranges.first() else {
        return Some(not_recommended(size, column));
    };
    if holds(speaks, amps) {
        return None;
    }
    let over = amps > speaks.1;
    let supported = ranges.iter().any(|(_, range)| holds(*range, amps));
    let ground_for_it = !over && tip_supports(prep, size, amps);
    let other = other_size(prep.class, size, column, amps, over);
    Some(Remark {
        level: level(over, supported, ground_for_it),
        about: "current",
        what: format!(
            "{amps} A is {} the {} listed for {size} mm ({})",
            if over { "over" } else { "under" },
            range(speaks),
            column.words()
        ),
        why: why(over).to_owned(),
        source: told_by(&ranges),
        to_try: match ground_for_it {
            true => format!(
                "keep it if the starts are good: tip table or practice take this taper so far down; else {other}"
            ),
            false => other,
        },
    })
}

/// The table that spoke, then the spread of the others.
fn told_by(ranges: &[(&'static str, (f64, f64))]) -> String {
    let told: Vec<String> = ranges
        .iter()
        .map(|(source, amps)| format!("{source}: {}", range(*amps)))
        .collect();
    let (speaker, others) = told.split_first().expect("a table spoke");
    match others.is_empty() {
        true => speaker.clone(),
        false => format!("{speaker}. Other tables differ: {}", others.join("; ")),
    }
}

fn level(over: bool, supported: bool, ground_for_it: bool) -> Level {
    match (over, supported) {
        (true, false) => Level::Change,
        (true, true) => Level::Look,
        (false, false) if !ground_for_it => Level::Look,
        (false, _) => Level::Note,
    }
}

/// The tip table and common practice take thick electrodes far down, if the tip is ground for it.
fn tip_supports(prep: &Prep, size: f64, amps: f64) -> bool {
    let Some(angle) = prep.taper_deg else {
        return false;
    };
    let by_table = TipRow::amps_at(size, angle).is_some_and(|range| holds(range, amps));
    by_table || Habit::of(size, angle, amps).is_some()
}

fn why(over: bool) -> &'static str {
    match over {
        true => "the tip overheats, melts, and can spit tungsten into the weld",
        false => {
            "a thick electrode stays cold at few amps: it emits late, so the arc starts late and wanders"
        }
    }
}

/// The nearest other size to which any table gives these amps.
fn other_size(
    class: Option<&Class>,
    size: f64,
    column: RangeColumn,
    amps: f64,
    over: bool,
) -> String {
    let fits = |mm: &f64| {
        CURRENT_TABLES
            .iter()
            .filter_map(|table| listed(table, class, *mm, column))
            .any(|range| holds(range, amps))
    };
    let found = match over {
        true => SIZES_MM.into_iter().filter(|mm| *mm > size).find(fits),
        false => SIZES_MM
            .into_iter()
            .rev()
            .filter(|mm| *mm < size)
            .find(fits),
    };
    match (found, over) {
        (Some(mm), true) => format!("{mm} mm, or fewer amps"),
        (Some(mm), false) => format!("{mm} mm"),
        (None, true) => "fewer amps, or a water-cooled torch with a thicker electrode".to_owned(),
        (None, false) => "a thinner electrode".to_owned(),
    }
}

fn not_a_listed_size(mm: f64, column: RangeColumn) -> Remark {
    let neighbours: Vec<String> = [
        SIZES_MM.into_iter().rev().find(|size| *size < mm),
        SIZES_MM.into_iter().find(|size| *size > mm),
    ]
    .into_iter()
    .flatten()
    .filter_map(|size| {
        Some(format!(
            "{} for {size} mm",
            range(COMPOSITE.range(size, column)?)
        ))
    })
    .collect();
    Remark {
        level: Level::Note,
        about: "current",
        what: format!("no table here lists electrodes of {mm} mm"),
        why: "so the current cannot be held against a range".to_owned(),
        source: COMPOSITE.source.to_owned(),
        to_try: format!("judge by the neighbours: {}", neighbours.join(", ")),
    }
}

fn not_recommended(size: f64, column: RangeColumn) -> Remark {
    Remark {
        level: Level::Change,
        about: "current",
        what: format!("{size} mm is not recommended for {}", column.words()),
        why: why(true).to_owned(),
        source: COMPOSITE.source.to_owned(),
        to_try: "a thicker electrode, or electrode negative".to_owned(),
    }
}

/// Without amps nothing can be held against a range.
pub(super) fn amps_missing(_: &Prep, case: &Case) -> Option<Remark> {
    case.set_a.is_none().then(|| Remark {
        level: Level::Note,
        about: "sheet",
        what: "set_a is empty".to_owned(),
        why: "without the amps set, electrode, taper and tip cannot be judged before the welding"
            .to_owned(),
        source: "docs/job.md".to_owned(),
        to_try: "write the amps set on the machine into the run sheet".to_owned(),
    })
}
