//! Run sheets.

use super::*;

#[test]
fn paths_that_leave_or_come_twice_do_no_harm() {
    let cases: Vec<Try> = vec![
        (
            "climbs out",
            "file,prep\n../../../../etc/passwd,A\n".into(),
            2,
            &["row 2, column file", "leaves the folder"],
        ),
        (
            "climbs out from inside",
            "file,prep\nsub/../../x.wav,A\n".into(),
            2,
            &["leaves the folder"],
        ),
        (
            "climbs out by backslashes",
            "file,prep\n..\\..\\x.wav,A\n".into(),
            2,
            &["leaves the folder"],
        ),
        (
            "an absolute path",
            "file,prep\n/etc/passwd,A\n".into(),
            2,
            &["absolute path"],
        ),
        (
            "a drive",
            "file,prep\nC:\\x.wav,A\n".into(),
            2,
            &["absolute path"],
        ),
        (
            "a device",
            "file,prep\n/dev/zero,A\n".into(),
            2,
            &["absolute path"],
        ),
        (
            "the sheet itself",
            "file,prep\nruns.csv,A\n".into(),
            3,
            &["runs.csv was left out"],
        ),
        (
            "the folder itself",
            "file,prep\n.,A\n".into(),
            3,
            &["is a folder, not a file"],
        ),
        (
            "the same starts twice",
            "file,prep\ngood.wav,A\ngood.wav,A\n".into(),
            2,
            &["row 3", "stands in row 2 too"],
        ),
    ];
    sheets_hold(&cases);
}

#[test]
fn sheets_too_large_do_no_harm() {
    let many = |cell: &str, count: usize| {
        (0..count)
            .map(|k| format!("{cell}{k},"))
            .collect::<String>()
    };
    let columns = format!("file,prep,{}\n", many("column", 200_000));
    let cells = format!("file,prep\ngood.wav,A,{}\n", many("", 200_000));
    let names = format!(
        "file,prep\n{}",
        (0..120_000)
            .map(|k| format!("{k}.wav,A\n"))
            .collect::<String>()
    );
    let long = "x".repeat(20 << 20);
    let cases: Vec<Try> = vec![
        (
            "200000 columns",
            columns,
            2,
            &["row 1", "200003 cells, more than 1000"],
        ),
        (
            "200000 cells in a row",
            cells,
            2,
            &["row 2", "more than 1000"],
        ),
        ("120000 rows", names, 2, &["more than 100000 rows"]),
        (
            "a cell of 20 MB",
            format!("file,prep\n{long},A\n"),
            2,
            &["row 2", "more than 10000"],
        ),
        (
            "a column name of 20 MB",
            format!("file,prep,{long}\n"),
            2,
            &["row 1", "more than 10000"],
        ),
        (
            "a quote never closed",
            format!("file,prep\n\"good.wav,A\n{long}"),
            2,
            &["row 2", "quote"],
        ),
    ];
    sheets_hold(&cases);
}

#[test]
fn cells_made_to_attack_do_no_harm() {
    let cases: Vec<Try> = vec![
        (
            "numbers that are none",
            "file,prep,set_a\ngood.wav,A,nan\n".into(),
            2,
            &["'nan' is not a number"],
        ),
        (
            "a number past f64",
            "file,prep,set_a\ngood.wav,A,1e999\n".into(),
            2,
            &["'1e999' is not a number"],
        ),
        (
            "amps under 0",
            "file,prep,set_a\ngood.wav,A,-0\n".into(),
            2,
            &["is not over 0"],
        ),
        (
            "a count past u32",
            "file,prep,since_regrind\ngood.wav,A,4294967296\n".into(),
            2,
            &["not a whole number from 1"],
        ),
        (
            "a part that is none",
            "file,prep,from_s,to_s\ngood.wav,A,5,5\n".into(),
            2,
            &["not later than from_s"],
        ),
        (
            "a part at the end of time",
            "file,prep,from_s,to_s\ngood.wav,A,1e307,1e308\n".into(),
            0,
            &["lies past its end"],
        ),
        (
            "escapes in a name",
            "file,prep\n\"a\x1b[2J\x07\n.wav\",A\n".into(),
            3,
            &["\\u{1b}[2J"],
        ),
        (
            "a name written backwards",
            "file,prep\na\u{202e}vaw.exe,A\n".into(),
            3,
            &["\\u{202e}"],
        ),
        (
            "zero bytes",
            "file,prep\n\0\0,\0\n".into(),
            2,
            &["column prep"],
        ),
        (
            "a column of the starts table",
            "file,prep,score\ngood.wav,A,100\n".into(),
            2,
            &["name of the starts table"],
        ),
        (
            "a column twice",
            "file,prep,prep\ngood.wav,A,A\n".into(),
            2,
            &["two columns are named 'prep'"],
        ),
    ];
    sheets_hold(&cases);
}

fn sheets_hold(cases: &[Try]) {
    all_hold(
        cases
            .iter()
            .filter_map(|(tries, sheet, code, words)| {
                let folder = job(RULES, sheet.as_bytes());
                fault(
                    tries,
                    &tipstrike(folder.path(), &["measure", "."]),
                    *code,
                    words,
                )
            })
            .collect(),
    );
}
