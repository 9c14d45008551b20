//! Cup, flow and work tables, cell by cell against their published text, and how they are read between the cells.

use tipstrike::fit::tables::{
    ALUMINIUM, CARRIES, CUPS, CUPS_2, HABITS, STAINLESS, STEEL, amps_for_work, argon_lpm,
    carried_amps, cups_for, longest_gap_mm, post_flow_s,
};
use tipstrike::job::Metal;

/// Manual 3617104 of a TIG torch, p. 7: DC A (AC A) | mm | cup numbers | argon l/min.
const CUP_TABLE: &str = "\
5-80 (5-50) | 1.0 | 4, 5 | 5-6
70-150 (30-100) | 1.6 | 4, 5, 6 | 6-7
130-250 (80-150) | 2.4 | 6, 7 | 7-8
220-350 (120-210) | 3.2 | 7, 8, 10 | 8-10
330-500 (180-280) | 4.0 | 10, 11, 12 | 10-12";

/// Welder's Handbook of a European gas supplier (e-edition), p. 41: work | thickness mm | A.
const WORK_TABLE: &str = "\
aluminium | 1.6 | 60-80
aluminium | 3.2 | 125-145
aluminium | 4.8 | 195-230
aluminium | 6.0 | 260-295
stainless | 1.6 | 50-70
stainless | 3.2 | 85-105
stainless | 4.8 | 120-145
stainless | 6.0 | 165-180
steel | 1.6 | 50-70
steel | 3.2 | 90-120
steel | 4.8 | 135-175
steel | 6.0 | 170-200";

fn range(cell: &str) -> (f64, f64) {
    let (from, to) = cell.split_once('-').expect(cell);
    (from.parse().unwrap(), to.parse().unwrap())
}

fn cells(table: &str) -> Vec<Vec<&str>> {
    table
        .lines()
        .map(|line| line.split('|').map(str::trim).collect())
        .collect()
}

#[test]
fn the_cup_table_is_the_published_one_cell_by_cell() {
    let rows = cells(CUP_TABLE);
    assert_eq!(rows.len(), CUPS.len());
    for (row, ours) in rows.iter().zip(&CUPS) {
        let (dc, ac) = row[0].split_once(" (").unwrap();
        let cups: Vec<f64> = row[2].split(", ").map(|n| n.parse().unwrap()).collect();
        assert_eq!(ours.mm, row[1].parse::<f64>().unwrap());
        assert_eq!(
            (ours.dc, ours.ac),
            (range(dc), range(ac.trim_end_matches(')')))
        );
        assert_eq!((ours.cups, ours.lpm), (cups.as_slice(), range(row[3])));
    }
}

/// Manual IM528-B, p. 41: 1.6 mm #5–#6, 2.4 mm #6–#8, 4.0 mm #8–#10.
#[test]
fn a_cup_is_usual_where_either_table_has_it() {
    assert_eq!(CUPS_2, [(1.6, 5.0, 6.0), (2.4, 6.0, 8.0), (4.0, 8.0, 10.0)]);
    assert_eq!(cups_for(1.6), Some((4.0, 6.0)));
    assert_eq!(cups_for(2.4), Some((6.0, 8.0)));
    assert_eq!(cups_for(3.2), Some((7.0, 10.0)));
    assert_eq!(cups_for(4.0), Some((8.0, 12.0)));
    assert_eq!(cups_for(6.4), None);
}

#[test]
fn the_work_table_is_the_published_one_cell_by_cell() {
    let mut count = 0;
    for row in cells(WORK_TABLE) {
        let (table, metal) = match row[0] {
            "aluminium" => (&ALUMINIUM, Metal::Aluminium),
            "stainless" => (&STAINLESS, Metal::Stainless),
            _ => (&STEEL, Metal::Steel),
        };
        let mm: f64 = row[1].parse().unwrap();
        let ours = table.iter().find(|ours| ours.mm == mm).unwrap();
        assert_eq!(ours.amps, range(row[2]), "{row:?}");
        assert_eq!(amps_for_work(metal, mm), Some(range(row[2])), "{row:?}");
        count += 1;
    }
    assert_eq!(count, 12);
}

/// This project's own reading: on the straight line, under the first row in proportion, nothing over the last.
#[test]
fn the_work_table_is_read_between_its_rows_and_under_them() {
    assert_eq!(amps_for_work(Metal::Steel, 2.4), Some((70.0, 95.0)));
    assert_eq!(amps_for_work(Metal::Steel, 0.8), Some((25.0, 35.0)));
    assert_eq!(amps_for_work(Metal::Steel, 6.1), None);
    assert_eq!(amps_for_work(Metal::Copper, 3.0), None);
}

#[test]
fn a_flow_is_read_by_the_cup_then_by_the_amps() {
    assert_eq!(argon_lpm(Some(7.0), Some(150.0), false), (7.0, 10.0));
    assert_eq!(argon_lpm(None, Some(240.0), false), (7.0, 10.0));
    assert_eq!(argon_lpm(None, Some(90.0), true), (5.0, 8.0));
    assert_eq!(argon_lpm(Some(9.0), None, false), (5.0, 12.0));
}

/// Common practice, no source: 1 s for each 10 A and at least 8 s; a gap of about a diameter, under 3 mm.
#[test]
fn post_flow_and_gap_are_what_practice_says() {
    assert_eq!(
        [
            post_flow_s(Some(40.0)),
            post_flow_s(Some(150.0)),
            post_flow_s(None)
        ],
        [8.0, 15.0, 8.0]
    );
    assert!((longest_gap_mm(Some(1.6)) - 2.4).abs() < 1e-12);
    assert_eq!(
        [
            longest_gap_mm(Some(0.5)),
            longest_gap_mm(Some(4.0)),
            longest_gap_mm(None)
        ],
        [1.5, 3.0, 3.0]
    );
}

/// On 2.4 mm (range to 235 A) the reading gives back what it was read from: the habits and the tip table.
#[test]
fn what_a_taper_carries_gives_back_the_habits_on_2_4_mm() {
    for habit in &HABITS {
        for deg in [habit.angle_deg.0, habit.angle_deg.1] {
            let carries = carried_amps(2.4, 235.0, deg, false);
            assert!(
                carries >= habit.amps.1,
                "{}: {carries} A at {deg}°",
                habit.what
            );
        }
    }
    assert!((carried_amps(2.4, 235.0, 60.0, false) - 235.0).abs() < 1e-9);
    assert!(
        (carried_amps(2.4, 235.0, 20.0, false) - 90.0).abs() < 1.0,
        "tip table, 35° and slimmer: 90 A"
    );
    assert!(
        CARRIES.windows(2).all(|pair| pair[0].1 <= pair[1].1),
        "blunter never carries less"
    );
}
