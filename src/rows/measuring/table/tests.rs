use std::collections::BTreeMap;
use std::io::Write;
use std::sync::Arc;

use proptest::prelude::*;

use crate::flag::Flag;
use crate::guard::{guard, unguard};
use crate::measure::{Measure, MeasureValues, Measures};
use crate::measuring::table::*;
use crate::score::{StartRow, Verdict};
use crate::start::Instants;

fn row(start: u32) -> StartRow {
    let mut measures = Measures::default();
    for (i, info) in Measure::ALL.iter().enumerate() {
        measures.set(
            *info,
            Some(if info.kind() == crate::measure::Kind::Count {
                i as f64
            } else {
                0.1 + i as f64 / 3.0
            }),
        );
    }
    let instants = Instants {
        t_open_s: None,
        t_first_s: Some(1.0 / 3.0),
        t_lit_s: Some(0.2 + 0.4),
        t_settled_s: Some(0.7),
        t_out_s: Some(1e12),
    };
    let sheet = [
        ("class", "WLa20"),
        ("ac_hz", "120"),
        ("offset", "-5"),
        ("note", "=1+1;@x"),
        ("count", "007"),
    ];
    StartRow {
        recording: "lid.wav".into(),
        run: 2,
        prep: "A".into(),
        tip_id: Some("A3".into()),
        coupon: Some("7".into()),
        cell: Some("2".into()),
        shift: Some("late".into()),
        date: Some("2026-03-09".into()),
        start,
        exclude: Some("fumbled".into()),
        instants,
        measures: (&measures).into(),
        flags: vec![Flag::VoltageScale, Flag::Retry],
        doubt: Some("-3 A go with 9 V; said, \"so\"".into()),
        score: Some(83.25),
        verdict: Some(Verdict::NoLight),
        sheet: Arc::new(BTreeMap::from(
            sheet.map(|(k, v)| (k.to_owned(), v.to_owned())),
        )),
    }
}

fn file(content: &[u8]) -> tempfile::NamedTempFile {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(content).unwrap();
    file
}

fn csv(rows: &[StartRow]) -> Vec<u8> {
    let mut out = Vec::new();
    write_csv(rows, &mut out).unwrap();
    out
}

fn jsonl(rows: &[StartRow]) -> Vec<u8> {
    let mut out = Vec::new();
    write_jsonl(rows, &mut out).unwrap();
    out
}

fn error(content: &str) -> String {
    let file = file(content.as_bytes());
    let text = read(file.path()).unwrap_err().to_string();
    text.replace(&file.path().display().to_string(), "FILE")
}

#[test]
fn the_columns_stand_in_the_order_of_the_design() {
    let columns = columns();
    assert_eq!(
        columns[..12],
        [
            "recording",
            "run",
            "prep",
            "tip_id",
            "coupon",
            "cell",
            "shift",
            "date",
            "start",
            "exclude",
            "lit",
            "t_open_s"
        ]
    );
    let place = |name: &str| columns.iter().position(|c| *c == name).unwrap();
    assert_eq!(
        columns[place("since_regrind") + 1..][..5],
        ["flags", "doubt", "score", "verdict", "u_start_ms"]
    );
    assert_eq!(columns.len(), 16 + Measure::ALL.len() + 4);
}

#[test]
fn a_table_written_and_read_again_gives_the_same_rows() {
    let mut empty = row(2);
    empty.measures = MeasureValues::default();
    empty.instants = Instants::default();
    (empty.coupon, empty.doubt, empty.score) = (None, None, None);
    (empty.verdict, empty.flags) = (None, Vec::new());
    empty.sheet = Arc::new(BTreeMap::from([(
        "weather".to_owned(),
        "wet, \"cold\"\nwindy".to_owned(),
    )]));
    let rows = [row(1), empty];
    for bytes in [csv(&rows), jsonl(&rows)] {
        let file = file(&bytes);
        assert!(is_table(file.path()).unwrap());
        assert_eq!(read(file.path()).unwrap(), rows);
    }
}

#[test]
fn tables_put_one_after_the_other_are_read_with_their_own_columns() {
    let mut other = row(9);
    other.sheet = Arc::new(BTreeMap::from([("bead_mm".to_owned(), "3.5".to_owned())]));
    let both = [row(1), other];
    let parts = [csv(&both[..1]), csv(&both[1..])];
    assert_eq!(read(file(&parts.concat()).path()).unwrap(), both);
    let parts = [jsonl(&both[..1]), jsonl(&both[1..])];
    assert_eq!(read(file(&parts.concat()).path()).unwrap(), both);
}

#[test]
fn a_table_saved_by_a_spreadsheet_with_semicolons_and_decimal_commas_is_read() {
    let table =
        "\u{feff}recording;run;prep;start;t_lit_s;start_ms;note\r\nx.wav;1;A;1;0,25;61,5;a,b\r\n";
    let rows = read(file(table.as_bytes()).path()).unwrap();
    assert_eq!(rows[0].instants.t_lit_s, Some(0.25));
    assert_eq!(rows[0].measures.start_ms(), Some(61.5));
    assert_eq!(rows[0].sheet["note"], "a,b");
}

#[test]
fn no_text_cell_begins_as_a_formula_and_numbers_stay_numbers() {
    let text = String::from_utf8(csv(&[row(1)])).unwrap();
    assert!(text.contains("'=1+1;'@x"), "{text}");
    assert!(text.contains(",-5\r\n"), "{text}");
}

#[test]
fn a_sheet_column_with_the_name_of_a_measure_is_kept_apart() {
    let rows = read(file(&csv(&[row(1)])).path()).unwrap();
    assert_eq!(rows[0].sheet["ac_hz"], "120");
    assert_ne!(rows[0].measures.ac_hz(), Some(120.0));
}

#[test]
fn faults_are_named_with_line_and_column() {
    let head = "recording,run,prep,start,lit,t_lit_s,start_ms,flags,verdict\n";
    let of = |line: &str| error(&format!("{head}{line}\n"));
    assert_eq!(
        of("x.wav,1,A,1,false,,fast,,"),
        "FILE, line 2: column \"start_ms\" is \"fast\", expected a number"
    );
    assert_eq!(
        of("x.wav,1,A,1,false,,inf,,"),
        "FILE, line 2: column \"start_ms\" is inf, expected a number or nothing"
    );
    assert_eq!(
        of("x.wav,1,A,1.5,false,,,,"),
        "FILE, line 2: column \"start\" is 1.5, expected a whole number from 1"
    );
    assert_eq!(
        of("x.wav,1,,1,false,,,,"),
        "FILE, line 2: column \"prep\" is empty"
    );
    assert_eq!(
        of("x.wav,1,A,1,true,,,,"),
        "FILE, line 2: column \"lit\" says true but \"t_lit_s\" is empty"
    );
    assert_eq!(
        of("x.wav,1,A,1,false,,,retri,"),
        "FILE, line 2: column \"flags\" has no flag \"retri\", the nearest is \"retry\""
    );
    assert_eq!(
        of("x.wav,1,A,1,false,,,,good"),
        "FILE, line 2: column \"verdict\" is \"good\", expected one of crisp, fair, rough, no light, doubtful"
    );
    assert_eq!(
        of("x.wav,1,A,1,false,,-3,,"),
        "FILE, line 2: column \"start_ms\" is -3, expected 0 or more"
    );
    let of = |line: &str| {
        error(&format!(
            "recording,run,prep,start,t_first_s,t_lit_s,attempts,score\r\n\r\nx.wav,1,A,1,1,2,1,99\r\n{line}\r\n"
        ))
    };
    assert_eq!(
        of("x.wav,1,A,2,5,3,1,99"),
        "FILE, line 4: column \"t_lit_s\" is 3, before \"t_first_s\" with 5"
    );
    assert_eq!(
        of("x.wav,1,A,2,5,6,-1,99"),
        "FILE, line 4: column \"attempts\" is -1, expected a whole number from 0"
    );
    assert_eq!(
        of("x.wav,1,A,2,5,6,1,300"),
        "FILE, line 4: column \"score\" is 300, expected 0 to 100"
    );
    let of = |line: &str| error(&format!("{head}{line}\n"));
    assert_eq!(
        of("x.wav,1,A"),
        "FILE, line 2: 3 cells found, 9 expected as in the head line"
    );
    assert!(
        of("x.wav,1,A,1,false,,,,\nx.wav,1,A,1,false,,,,")
            .starts_with("FILE, line 3: the same start stands at line 2")
    );
    assert!(
        error("{\"recording\":\"a\",\"run\":1,\"prep\":\"A\"}")
            .starts_with("FILE, line 1: column \"start\" is missing")
    );
    assert!(error("time_s,current_a\n0,1\n").starts_with("FILE: is no starts table"));
}

#[test]
fn a_recording_in_csv_is_no_table() {
    assert!(!is_table(file(b"time_s,current_a\n0,1\n").path()).unwrap());
    assert!(!is_table(file(b"").path()).unwrap());
    assert!(!is_table(file(b"[job]\ntitle = \"x\"\n").path()).unwrap());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn any_text_is_guarded_and_given_back(text in "[-=+@'; \t\r\na-c\u{ff1d}\u{202e}]{0,12}") {
        let guarded = guard(&text);
        prop_assert_eq!(unguard(&guarded), text);
        for part in guarded.split([';', '\t', '\r', '\n']) {
            prop_assert!(!part.starts_with(['=', '+', '-', '@', '＝']));
        }
    }

    #[test]
    fn any_row_comes_back(
        key in "[a-z_=+;, \"é]{1,8}",
        text in "\\PC{0,12}",
        number in proptest::num::f64::NORMAL,
        seconds in 0.0..1e5f64,
    ) {
        let mut row = row(1);
        let mut sheet = BTreeMap::from([(key.trim().to_owned() + "x", text)]);
        sheet.retain(|_, text| !text.is_empty());
        row.sheet = Arc::new(sheet);
        row.measures.set(Measure::DriftV, Some(number));
        row.instants.t_out_s = Some(1.0 + seconds);
        let rows = [row];
        prop_assert_eq!(&read(file(&csv(&rows)).path()).unwrap(), &rows);
        prop_assert_eq!(&read(file(&jsonl(&rows)).path()).unwrap(), &rows);
    }
}
