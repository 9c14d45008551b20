//! Titles, units, preambles and decimal signs as loggers write them.

use super::*;

fn layout(text: &str) -> Layout {
    Layout::of(text.as_bytes(), "test.csv").unwrap()
}

#[test]
fn units_are_read_from_titles_of_every_form() {
    let cases = [
        ("current_a", "current", Some("a")),
        ("Current (mA)", "current", Some("ma")),
        ("U [V]", "u", Some("v")),
        ("I/A", "i", Some("a")),
        ("time in µs", "time", Some("us")),
        ("CH1(V)", "ch1", Some("v")),
        ("welding_current_a", "welding_current", Some("a")),
        ("shunt mV", "shunt", Some("mv")),
        ("Kanal A", "kanal a", None),
        ("ch_a", "ch_a", None),
        ("shunt_v", "shunt", Some("v")),
        ("data", "data", None),
    ];
    for (title, name, unit) in cases {
        assert_eq!(split_unit(title), (name.to_owned(), unit), "{title}");
    }
}

#[test]
fn preamble_header_and_units_row_are_found_above_the_rows() {
    let found =
        layout("Model,7\nRate,20000\n\nTime,I,U\ns,A,V\n0,1,2\n0.1,2,3\n0.2,3,4\n0.3,4,5\n");
    let titles: Vec<&str> = found.columns.iter().map(|c| c.title.as_str()).collect();
    let units: Vec<_> = found.columns.iter().map(|c| c.unit.as_deref()).collect();
    assert_eq!(titles, ["Time", "I", "U"]);
    assert_eq!(units, [Some("s"), Some("a"), Some("v")]);
    assert_eq!(
        (found.first_line, found.delimiter, found.decimal),
        (6, b',', b'.')
    );
}

#[test]
fn a_row_of_units_counts_for_more_than_a_title() {
    let found = layout("Zeit;Kanal A;Strom A\ns;mV;V\n0,0;1,5;2\n0,1;2,5;3\n0,2;3,5;4\n");
    let units: Vec<_> = found.columns.iter().map(|c| c.unit.as_deref()).collect();
    assert_eq!(units, [Some("s"), Some("mv"), Some("v")]);
}

#[test]
fn a_decimal_comma_goes_with_semicolons() {
    let found = layout("Zeit_s;Strom_A\r\n0,0001;80,5\r\n0,0002;80,25\r\n");
    assert_eq!((found.delimiter, found.decimal), (b';', b','));
    assert_eq!(found.rows_at, 16);
}

#[test]
fn thousands_separators_are_refused_with_the_line() {
    let error = Layout::of(b"t;i\n0;1,234.5\n1;1,235.5\n", "x.csv")
        .unwrap_err()
        .to_string();
    assert!(
        error.contains("line 2") && error.contains("thousands"),
        "{error}"
    );
}
