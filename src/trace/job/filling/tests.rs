//! Rows of a sheet as a session fills them.

use super::*;

const PLAN: &str = "file,prep,tip_id,starts,since_regrind\nrun1.wav,A,A1,3,1\nrun2.wav,B,B1,2,1\n";

fn begun(text: &str) -> Filling {
    let sheet = SheetText::parse(text, "runs.csv").unwrap();
    Filling::begin(sheet, "s.wav", |file| file == "old.wav").unwrap()
}

/// Rows as prep's tip, since, starts of planned, part, and the reason.
fn rows(filling: &Filling) -> Vec<String> {
    let cell = |row, column| filling.sheet.cell(row, column);
    let row = |row| {
        format!(
            "{} {} {}/{} [{}..{}] {}",
            cell(row, TIP),
            cell(row, SINCE),
            cell(row, STARTS),
            cell(row, PLANNED),
            cell(row, FROM),
            cell(row, TO),
            cell(row, EXCLUDE)
        )
    };
    (0..filling.sheet.len()).map(row).collect()
}

#[test]
fn starts_fill_the_rows_in_order_and_each_row_has_its_part_of_the_recording() {
    let mut filling = begun(PLAN);
    assert_eq!(rows(&filling), ["A1 1 0/3 [..] ", "B1 1 0/2 [..] "]);
    for from in [None, Some(5.0), Some(9.0), Some(14.5)] {
        filling.heard(from);
    }
    assert_eq!(
        rows(&filling),
        ["A1 1 3/3 [..14.500] ", "B1 1 1/2 [14.500..] "]
    );
    assert_eq!(filling.to_strike(), Some(1));
}

#[test]
fn a_fumbled_start_is_set_aside_and_struck_again() {
    let mut filling = begun(PLAN);
    assert!(!filling.fumbled());
    filling.heard(None);
    filling.heard(Some(4.0));
    assert!(filling.fumbled());
    assert!(!filling.fumbled());
    let parted = [
        "A1 1 1/1 [..4.000] ",
        "A1 2 1/0 [4.000..] fumbled",
        "A1 3 0/2 [..] ",
    ];
    assert_eq!(rows(&filling)[..3], parted);
    filling.heard(Some(8.0));
    assert_eq!(filling.struck(2), 2);
    let gone_on = ["A1 2 1/0 [4.000..8.000] fumbled", "A1 3 1/2 [8.000..] "];
    assert_eq!(rows(&filling)[1..3], gone_on);
}

#[test]
fn the_first_start_fumbled_leaves_no_empty_row() {
    let mut filling = begun(PLAN);
    filling.heard(None);
    filling.fumbled();
    assert_eq!(
        rows(&filling)[..2],
        ["A1 1 1/0 [..] fumbled", "A1 2 0/3 [..] "]
    );
}

#[test]
fn a_tip_ground_anew_gets_a_name_of_its_own_in_the_rows_to_come_too() {
    let mut filling = begun(
        "file,prep,tip_id,starts,since_regrind\na.wav,A,A1,2,1\nb.wav,B,B1,1,1\nc.wav,A,A1,2,3\n",
    );
    assert_eq!(filling.reground(), None);
    filling.heard(None);
    assert_eq!(filling.reground().as_deref(), Some("A1-2"));
    assert_eq!(filling.reground(), None);
    filling.heard(Some(3.0));
    assert_eq!(
        rows(&filling),
        [
            "A1 1 1/1 [..3.000] ",
            "A1-2 1 1/1 [3.000..] ",
            "B1 1 0/1 [..] ",
            "A1-2  0/2 [..] "
        ]
    );
}

#[test]
fn what_is_struck_beyond_the_plan_is_set_aside() {
    let mut filling = begun("file,prep,starts\na.wav,A,1\n");
    filling.heard(None);
    filling.heard(Some(3.0));
    assert_eq!(
        rows(&filling),
        ["  1/1 [..3.000] ", "  1/0 [3.000..] beyond the plan"]
    );
    assert!(!filling.fumbled());
    assert_eq!((filling.to_strike(), filling.reground()), (None, None));
}

#[test]
fn a_recording_that_is_there_is_struck_and_a_second_one_goes_on() {
    let mut filling = begun(
        "file,prep,tip_id,starts,planned\nold.wav,A,A1,1,3\nold.wav,A,A2,2,\nx.wav,A,A3,2,\n",
    );
    filling.heard(None);
    let files: Vec<&str> = (0..filling.sheet.len())
        .map(|row| filling.sheet.cell(row, FILE))
        .collect();
    assert_eq!(files, ["old.wav", "s.wav", "old.wav", "x.wav"]);
    assert_eq!(
        rows(&filling),
        [
            "A1  1/1 [..] ",
            "A1  1/2 [..] ",
            "A2  2/ [..] ",
            "A3  0/2 [..] "
        ]
    );
    let none = SheetText::parse("file,prep\nnew.wav,A\n", "runs.csv").unwrap();
    assert_eq!(Filling::begin(none, "s.wav", |_| false), Err(0));
}
