//! The run sheet at its limits: sizes, quotes, slips, parts of a recording.

use std::fs;

use tipstrike::job::Job;

fn read(job: &str, sheet: &str) -> Result<Job, String> {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("job.toml"), job).unwrap();
    fs::write(folder.path().join("runs.csv"), sheet).unwrap();
    Job::read(folder.path()).map_err(|e| e.to_string())
}

fn refused(job: &str, sheet: &str) -> String {
    read(job, sheet).expect_err("it was read")
}

const RULES: &str = "[prep.A]\n";

#[test]
fn a_sheet_of_just_the_largest_size_is_read() {
    let cells = |count: usize| format!("file,prep{}\na,A\n", ",".repeat(count - 2));
    assert!(read(RULES, &cells(1000)).is_ok());
    assert!(refused(RULES, &cells(1001)).contains("it has 1001 cells, more than 1000"));
    let note = |length: usize| format!("file,prep,note\na,A,{}\n", "x".repeat(length));
    assert!(read(RULES, &note(10_000)).is_ok());
    assert!(refused(RULES, &note(10_001)).contains("a cell is 10001 bytes long, more than 10000"));
    // Told before the runs are made of it: that the head lacks a column, or that there are too many rows.
    let rows = |count: usize| refused(RULES, &("file\n".to_owned() + &"a\n".repeat(count)));
    assert!(rows(100_000).contains("there is no column 'prep'"));
    assert!(rows(100_001).contains("row 100002: the sheet has more than 100000 rows"));
}

/// Delimiters inside quotes are text: RFC 4180, 2.6.
#[test]
fn quotes_of_the_header_hide_its_commas_and_end() {
    for sheet in [
        "\"file\";\"prep\";\"a, b, c, d\"\na;A;1\n",
        "\"a;b;c;d\",file,prep\n1,a,A\n",
    ] {
        let job = read(RULES, sheet).unwrap();
        assert_eq!(
            (job.runs[0].file.as_str(), job.runs[0].prep.as_str()),
            ("a", "A")
        );
    }
}

#[test]
fn the_next_part_of_a_recording_begins_where_the_one_before_it_ends() {
    let parts = |second: &str| format!("file,prep,from_s,to_s\na,A,0,5\na,A,{second}\n");
    assert_eq!(read(RULES, &parts("5,9")).unwrap().runs.len(), 2);
    let turned = "file,prep,from_s,to_s\na,A,5,9\na,A,0,5\n";
    assert_eq!(read(RULES, turned).unwrap().runs.len(), 2);
    assert!(refused(RULES, &parts("4.9,9")).contains("'a' stands in row 2 too"));
    assert!(refused(RULES, &parts("5,5")).contains("'5' is not later than from_s"));
}

#[test]
fn a_part_may_be_named_by_minutes_and_seconds_as_players_show_them() {
    let part = |from: &str, to: &str| format!("file,prep,from_s,to_s\na,A,{from},{to}\n");
    let job = read(RULES, &part("1:05.5", "1:02:03")).unwrap();
    assert_eq!(job.runs[0].span_s(), (65.5, 3723.0));
    for wrong in ["1:75", "1:2:3:4", "1:61:00", ":30"] {
        let error = refused(RULES, &part("0", wrong));
        let said = format!("'{wrong}' is no time. Write seconds, or minutes and seconds as 12:05");
        assert!(error.contains(&said), "{error}");
    }
}

#[test]
fn rows_of_one_recording_share_its_starts_in_order_and_a_row_without_any_takes_none() {
    let sheet = "file,prep,starts\na,A,2\na,A,0\na,A,3\na,A,\n";
    let job = read(RULES, sheet).unwrap();
    let takes: Vec<_> = job.runs.iter().map(|run| run.takes()).collect();
    assert_eq!(takes, [0..2, 2..2, 2..5, 5..usize::MAX]);
    assert!(refused(RULES, "file,prep,starts\na,A,\na,A,2\n").contains("stands in row 2 too"));
}

#[test]
fn what_a_spreadsheet_would_run_is_read_as_it_was_written_harmless() {
    let job = read("[prep.\"=A\"]\n", "file,prep,tip_id\na,'=A,'-1\n").unwrap();
    assert_eq!(job.runs[0].prep, "=A");
    assert_eq!(job.runs[0].tip_id.as_deref(), Some("-1"));
}

#[test]
fn a_number_with_a_decimal_comma_is_kept_with_a_point_and_a_text_as_it_stands() {
    let job = read(RULES, "file;prep;bead_mm;note;flow\na;A;4,5;4,5;8,5\n").unwrap();
    let other = &job.runs[0].other;
    assert_eq!(
        [&other["bead_mm"], &other["note"], &other["flow"]],
        ["4.5", "4,5", "8,5"]
    );
}

#[test]
fn a_tip_has_struck_a_million_arcs_at_the_most() {
    let since = |n: &str| format!("file,prep,since_regrind\na,A,{n}\n");
    assert_eq!(
        read(RULES, &since("1000000")).unwrap().runs[0].since_regrind,
        Some(1_000_000)
    );
    for n in ["1000001", "2e6", "0", "1.5"] {
        assert!(refused(RULES, &since(n)).contains("is not a whole number from 1"));
    }
}

#[test]
fn empty_cells_are_not_kept() {
    let job = read(RULES, "file,prep,,note,mine\na,A,,,\n").unwrap();
    assert!(job.runs[0].other.is_empty(), "{:?}", job.runs[0].other);
}

/// Jaro-Winkler likeness is not looked for in a word of more than 64 bytes.
#[test]
fn a_long_name_is_like_none() {
    let rules = format!("[prep.{}]\n", "a".repeat(64));
    let of_length = |n: usize| format!("file,prep\nx,{}b\n", "a".repeat(n - 1));
    assert!(refused(&rules, &of_length(64)).contains("Did you mean 'aaa"));
    assert!(refused(&rules, &of_length(65)).contains("The job file has aaa"));
}

/// One slip of the finger in a word of up to seven letters, two in a longer one, none in words of three.
#[test]
fn a_column_of_your_own_is_no_slip_of_a_known_one() {
    let slip = |name: &str| refused(RULES, &format!("file,prep,{name}\na,A,1\n"));
    assert!(slip("copon").contains("Did you mean 'coupon'?"));
    assert!(slip("flaw").contains("Did you mean 'flow'?"));
    assert!(slip("hicknesx").contains("Did you mean 'thickness'?"));
    assert!(slip("arcgap").contains("Did you mean 'arc_gap'?"));
    assert!(slip("thicknss").contains("Did you mean 'thickness'?"));
    for own in ["bead", "cop", "gap", "gaz", "hicknes"] {
        assert!(
            read(RULES, &format!("file,prep,{own}\na,A,1\n")).is_ok(),
            "{own}"
        );
    }
}

/// Trade fractions are of whole numbers; what stands over nothing is no length.
#[test]
fn a_fraction_of_an_inch_is_of_whole_numbers() {
    let diameter = |text: &str| {
        read(
            &format!("[prep.A]\ndiameter = \"{text}\"\n"),
            "file,prep\na,A\n",
        )
    };
    let mm = |text: &str| diameter(text).unwrap().preps["A"].diameter.unwrap().mm();
    assert!((mm("3/32 in") - 2.38125).abs() < 1e-9);
    assert!(
        (mm("0 3/32 in") - 2.38125).abs() < 1e-9 && (mm("0-1/16\u{2033}") - 1.5875).abs() < 1e-9
    );
    for text in ["1.5/2 in", "3/0 in", "/8 in", "1/ in", "1 in/8 mm"] {
        assert!(
            diameter(text)
                .unwrap_err()
                .contains("is not a length such as"),
            "{text}"
        );
    }
}

#[test]
fn a_fault_deep_in_a_section_names_the_whole_path_of_its_key() {
    let said = |job: &str| refused(job, "file,prep\na,A\n");
    let shunt = said("[logger]\n\ncurrent = { shunt = { amps = 1, milivolts = 2 } }\n[prep.A]\n");
    assert!(shunt.contains("line 3, [logger], current.shunt.milivolts: 'milivolts' is not known. Did you mean 'millivolts'?"), "{shunt}");
    let typed = said("[prep.A]\ntaper_deg = [30]\n");
    assert!(
        typed.contains("line 2, [prep.A], taper_deg: found a list, expected a number"),
        "{typed}"
    );
    let whole = said("[prep.A]\ntargets = 3\n");
    assert!(
        whole.contains("found the number 3, expected a table such as { key = value }"),
        "{whole}"
    );
}
