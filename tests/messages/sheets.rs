//! Run sheets with one fault each, and the whole message that it gets.

use super::{all_said, lacking, said};

#[test]
fn of_the_columns_of_a_run_sheet() {
    let cases = [
        (
            "",
            "sheet-form",
            "runs.csv: the sheet is empty. Its first row names the columns: file, prep, …",
        ),
        (
            "file,prep\n",
            "sheet-form",
            "runs.csv: the sheet has no runs. Write one row a recording",
        ),
        (
            "file,grind\na,A\n",
            "sheet-form",
            "there is no column 'prep'. The first row names the columns; 'file' and 'prep' must be there",
        ),
        (
            "file,prep,prep\na,A,A\n",
            "sheet-form",
            "two columns are named 'prep'. Rename one",
        ),
        (
            "file,prep,coupn\na,A,1\n",
            "sheet-form",
            "column 'coupn' is not known. Did you mean 'coupon'?",
        ),
        (
            "file,prep,score\na,A,1\n",
            "sheet-form",
            "column 'score' has a name of the starts table. Rename it, to 'my_score' say",
        ),
        (
            "file,prep\na,A,stray\n",
            "sheet-form",
            "runs.csv, row 2: 'stray' in column number 3 stands under no column name. Name the column in the first row, or put a cell with a comma in quotes",
        ),
    ];
    sheets_said(&cases);
}

#[test]
fn of_the_cells_of_a_run_sheet() {
    let cases = [
        (
            "file,prep\n,A\n",
            "sheet-cell",
            "runs.csv, row 2, column file: '' is empty. Every run needs one",
        ),
        (
            "file,prep\na,B\n",
            "sheet-cell",
            "row 2, column prep: 'B' is no prep of the job file. ",
        ),
        (
            "file,prep\na,long ago\n",
            "sheet-cell",
            "'long ago' is no prep of the job file. The job file has A",
        ),
        (
            "file,prep,set_a\na,A,80 A\n",
            "sheet-cell",
            "column set_a: '80 A' is not a number. Write the amps set as a bare number",
        ),
        (
            "file,prep,ac_hz\na,A,many\n",
            "sheet-cell",
            "'many' is not a number. Write a frequency in Hz as a bare number",
        ),
        (
            "file,prep,upslope_s\na,A,long\n",
            "sheet-cell",
            "'long' is not a number. Write seconds as a bare number",
        ),
        (
            "file,prep,set_en_pct\na,A,most\n",
            "sheet-cell",
            "'most' is not a number. Write the electrode-negative share in percent as a bare number",
        ),
        (
            "file,prep,set_a\na,A,0\n",
            "sheet-cell",
            "'0' is not over 0. Meant is the amps set",
        ),
        (
            "file,prep,upslope_s\na,A,-1\n",
            "sheet-cell",
            "'-1' is under 0. Meant are seconds",
        ),
        (
            "file,prep,from_s,to_s\na,A,5,2\n",
            "sheet-cell",
            "column to_s: '2' is not later than from_s. Swap or correct them",
        ),
        (
            "file,prep,process\na,A,tig\n",
            "sheet-cell",
            "'tig' is not known here. Meant is one of dc, dcen, dcep, ac",
        ),
        (
            "file,prep,set_en_pct\na,A,0.7\n",
            "sheet-cell",
            "'0.7' is no share between 1 and 99 percent. Meant is the electrode-negative share of the time; where the machine shows the cleaning side, write 100 less that",
        ),
        (
            "file,prep,since_regrind\na,A,1.5\n",
            "sheet-cell",
            "'1.5' is not a whole number from 1. Give the number of the run's first start on this tip: 1 when freshly ground",
        ),
        (
            "file,prep,stickout\na,A,5\n",
            "invalid-value",
            "row 2, column stickout: '5' has no unit: write '5 mm' or '5 in'",
        ),
        (
            "file,prep\n/a,A\n",
            "sheet-cell",
            "'/a' is an absolute path. Paths are relative to the job file and stay in its folder",
        ),
        (
            "file,prep\n../a,A\n",
            "sheet-cell",
            "'../a' leaves the folder of the job file. Paths are relative to the job file and stay in its folder",
        ),
        (
            "file,prep\na,A\na,A\n",
            "counted-twice",
            "runs.csv, row 3, column file: 'a' stands in row 2 too. Its starts would count twice: give each row its number of starts, or its part by from_s and to_s",
        ),
    ];
    sheets_said(&cases);
}

fn sheets_said(cases: &[(&str, &str, &str)]) {
    let wrong = cases.iter().filter_map(|(sheet, heading, message)| {
        let files = [("job.toml", "[prep.A]\n"), ("runs.csv", sheet)];
        lacking(
            sheet,
            &said(&files, &["prep", "job.toml"]),
            heading,
            message,
        )
    });
    all_said(wrong.collect());
}

#[test]
fn of_a_sheet_that_is_too_large() {
    let cases = [
        (
            format!("file,prep\n{}", "a,A\n".repeat(200_000)),
            "sheet-form",
            "rows. Make several jobs of it",
        ),
        (
            format!("file,prep{}\na,A\n", ",".repeat(5000)),
            "sheet-form",
            "Check the separator and the quotes",
        ),
        (
            format!("file,prep,note\na,A,\"{}\"\n", "x".repeat(200_000)),
            "sheet-form",
            "Check that every quote is closed",
        ),
    ];
    let wrong = cases.iter().filter_map(|(sheet, heading, message)| {
        let files = [("job.toml", "[prep.A]\n"), ("runs.csv", sheet.as_str())];
        lacking(
            "a large sheet",
            &said(&files, &["prep", "job.toml"]),
            heading,
            message,
        )
    });
    all_said(wrong.collect());
}
