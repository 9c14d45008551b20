//! The tables of docs/electrodes.md, cell by cell, against those that the program judges by.

use tipstrike::fit::tables::{
    ALUMINIUM, ANNEX, Amps, BALANCED_PCT, CARRIES, COMPOSITE, CUPS, CurrentTable, EUROPEAN,
    LOWEST_ON_AC, MACHINE_16, MACHINE_49, RangeColumn, STAINLESS, STEEL, TIPS, UNBALANCED_PCT,
    carried_amps,
};

fn text() -> String {
    std::fs::read_to_string("docs/electrodes.md").unwrap()
}

/// The section under a heading.
fn section(heading: &str) -> String {
    let text = text();
    let (_, after) = text
        .split_once(&format!("\n## {heading}\n"))
        .expect(heading);
    after.split("\n## ").next().unwrap().to_owned()
}

/// Rows of a section's tables with so many cells whose first cell is a number or an angle.
fn rows(section: &str, cells: usize) -> Vec<Vec<String>> {
    let rows = section.lines().filter_map(|line| {
        let line = line.trim().strip_prefix("| ")?.strip_suffix(" |")?;
        Some(
            line.split('|')
                .map(|c| c.trim().to_owned())
                .collect::<Vec<_>>(),
        )
    });
    rows.filter(|row| row.len() == cells && row[0].starts_with(|c: char| c.is_ascii_digit()))
        .collect()
}

fn range((from, to): (f64, f64)) -> String {
    match from {
        0.0 => format!("≤{to}"),
        _ => format!("{from}–{to}"),
    }
}

fn cell(amps: Amps) -> String {
    amps.map_or("no".to_owned(), range)
}

/// A trade size as the docs write it.
fn size(mm: f64) -> String {
    match mm {
        0.25 => "0.25".to_owned(),
        _ => format!("{mm:.1}"),
    }
}

#[test]
fn the_composite_current_table_of_the_docs_is_the_programs() {
    use RangeColumn::*;
    let columns = [
        DcenPure,
        DcenOxide,
        Dcep,
        AcUnbalancedPure,
        AcUnbalancedOxide,
        AcBalancedPure,
        AcBalancedOxide,
    ];
    let told: Vec<Vec<String>> = rows(&section("Current by diameter"), 8);
    let ours: Vec<Vec<String>> = COMPOSITE
        .rows
        .iter()
        .map(|row| {
            let cells = columns.iter().map(|c| cell(COMPOSITE.range(row.mm, *c)));
            let mut cells: Vec<String> = [size(row.mm)].into_iter().chain(cells).collect();
            if row.mm == 4.8 {
                cells[5] += " (Zr 400–550)";
            }
            cells
        })
        .collect();
    assert_eq!(told, ours);
}

#[test]
fn what_the_docs_quote_of_the_other_current_tables_is_in_them() {
    let text = section("Current by diameter");
    let on_dc = |table: &CurrentTable| cell(table.range(2.4, RangeColumn::DcenOxide));
    for (table, quote) in [
        (&ANNEX, "(DC 2.4 mm: {} A)"),
        (&EUROPEAN, "(DC 2.4 mm: {} A)"),
        (&MACHINE_16, "({} A)"),
        (&MACHINE_49, "({} A)"),
    ] {
        let quote = quote.replace("{}", &on_dc(table));
        assert!(text.contains(&quote), "{quote} of {}", table.source);
    }
    let lowest: Vec<String> = LOWEST_ON_AC
        .iter()
        .map(|(_, amps)| amps.to_string())
        .collect();
    let (last, others) = lowest.split_last().unwrap();
    let quote = format!("{} and {last} A", others.join(", "));
    assert!(text.contains(&quote), "{quote}");
    let (low, high) = BALANCED_PCT;
    for row in [
        format!("| {UNBALANCED_PCT} % and more,"),
        format!("| {high}–{UNBALANCED_PCT} % |"),
        format!("| {low}–{high} % |"),
        format!("| under {low} % |"),
    ] {
        assert!(text.contains(&row), "{row}");
    }
}

#[test]
fn the_tip_table_of_the_docs_is_the_programs() {
    let text = section("Taper, flat and current (DC electrode negative)");
    let ours: Vec<Vec<String>> = TIPS
        .iter()
        .map(|row| {
            vec![
                size(row.mm),
                format!("{:.3}", row.flat_mm),
                format!("{}°", row.angle_deg),
                range(row.amps),
            ]
        })
        .collect();
    assert_eq!(rows(&text, 4), ours);
}

/// The part that a pointed taper carries, and what that is on 2.4 mm whose range ends at 235 A.
#[test]
fn what_the_docs_say_a_taper_carries_is_what_the_program_takes() {
    let text = section("Taper, flat and current (DC electrode negative)");
    let told = rows(&text, 3);
    let part = |deg: f64| {
        let row = CARRIES.iter().find(|(known, _)| *known == deg);
        row.expect("an angle of the table").1
    };
    for (row, angles) in told
        .iter()
        .zip([&[25.0][..], &[30.0, 35.0], &[45.0, 50.0], &[60.0]])
    {
        for deg in angles {
            assert!(row[0].contains(&deg.to_string()), "{row:?}");
            assert_eq!(row[1], part(*deg).to_string());
            let carries = carried_amps(2.4, 235.0, *deg, false).round();
            // The docs round to 5 A, as welders do.
            let told: f64 = row[2].split(' ').rev().nth(1).unwrap().parse().unwrap();
            assert!((told - carries).abs() <= 2.5, "{row:?}: {carries}");
        }
    }
    assert_eq!(told.len(), 4);
}

#[test]
fn the_cup_and_flow_table_of_the_docs_is_the_programs() {
    let text = section("Gas, cup, stick-out, gap");
    let ours: Vec<Vec<String>> = CUPS
        .iter()
        .map(|row| {
            let cups: Vec<String> = row.cups.iter().map(f64::to_string).collect();
            vec![
                size(row.mm),
                format!("{} ({})", range(row.dc), range(row.ac)),
                cups.join(", "),
                range(row.lpm),
            ]
        })
        .collect();
    assert_eq!(rows(&text, 4), ours);
}

#[test]
fn the_work_table_of_the_docs_is_the_programs() {
    let rows = rows(&section("Work"), 4);
    assert_eq!(rows.len(), STEEL.len());
    for (row, ((aluminium, stainless), steel)) in rows
        .iter()
        .zip(ALUMINIUM.iter().zip(&STAINLESS).zip(&STEEL))
    {
        assert_eq!(row[0], size(steel.mm));
        let ours = [aluminium, stainless, steel].map(|one| range(one.amps));
        assert_eq!(row[1..], ours, "{row:?}");
    }
}
