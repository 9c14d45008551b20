//! Calls that cannot be done as they stand, and the whole message that each gets.

use super::{all_said, lacking, said};

/// Eight starts of two preps, their scores apart.
fn starts() -> String {
    let row = |k: usize| {
        format!(
            "{},{}.wav,1,{},2,{},{}\n",
            k + 1,
            k + 1,
            ["A", "B"][k % 2],
            60 + k,
            10 + k % 3
        )
    };
    format!(
        "run,recording,start,prep,t_lit_s,score,bead_mm\n{}",
        (0..8).map(row).collect::<String>()
    )
}

#[test]
fn of_comparing_and_screening() {
    let cases = [
        (
            "compare starts.csv --by hand",
            "unknown-column",
            "--by hand: none of 8 starts has it. They can be grouped by ",
        ),
        (
            "compare starts.csv --measure bead",
            "unknown-column",
            "--measure bead: this is neither a measure nor a sheet column with numbers. docs/measures.md lists the measures; a column of the run sheet goes by its heading",
        ),
        (
            "compare starts.csv --better score=lower",
            "invalid-parameter",
            "--better score: which way this measure is better is fixed. Say it of numeric columns of your own sheet, such as bead_mm=higher",
        ),
        (
            "compare starts.csv --better bead_mm=wide",
            "Values of options",
            "wide is neither lower nor higher",
        ),
        (
            "compare starts.csv --margin score",
            "Values of options",
            "expected NAME=VALUE, such as start_ms=20",
        ),
        (
            "compare starts.csv --margin score=few",
            "Values of options",
            "few is not a number",
        ),
        (
            "compare starts.csv --margin score=0",
            "Values of options",
            "a margin is more than 0, not 0",
        ),
        (
            "compare starts.csv --level 2",
            "Values of options",
            "expected a number from 0.5 to 0.9999, such as 0.95",
        ),
        (
            "compare starts.csv starts.csv",
            "counted-twice",
            "comes in twice, so it would be counted twice. Name each job, table or recording once; not a table beside the job it was made from.",
        ),
        (
            "screen starts.csv --by hand",
            "unknown-column",
            "--by hand: no start has this column. Group by prep, coupon, recording, folder or a column of the run sheet",
        ),
        (
            "screen starts.csv --regrind-at run_a=5",
            "invalid-parameter",
            "--regrind-at: no wear is looked for in run_a. It is in ",
        ),
        (
            "screen starts.csv --sampling 3",
            "invalid-parameter",
            "--sampling: 3 is no acceptance limit of ISO 2859-1. Take one of 0.01 0.015 0.025 0.04 0.065 0.1 0.15 0.25 0.4 0.65 1 1.5 2.5 4 6.5",
        ),
        (
            "screen starts.csv --sampling 1 --lot 0",
            "Values of options",
            "expected a whole number from 1",
        ),
        (
            "screen starts.csv",
            "Below a screening",
            "A has 4 starts, too few for a chart of score: it takes 21. Strike more, or go on from earlier starts.",
        ),
        (
            "screen starts.csv --accept 0",
            "Values of options",
            "expected a percentage from 0.001 to under 100, such as 2%",
        ),
        (
            "screen starts.csv --baseline-from none.csv",
            "no-starts",
            "none.csv: there is no start to make limits from. Name a job or a table of starts that are known to be good",
        ),
        (
            "compare none.csv",
            "no-starts",
            "compare: there is no start to compare. tipstrike inspect shows what is in a recording",
        ),
    ];
    all_said(wrong_of(&cases));
}

#[test]
fn of_planning_numbers() {
    let cases = [
        (
            "plan".to_owned(),
            "incomplete-question",
            "plan: no question is asked. Give --see with --pilot or --spread, --rates, --rough-under, or --preps with --coupons; see --help.",
        ),
        (
            "plan --rates 2".to_owned(),
            "incomplete-question",
            "--rates: expected two rates, such as 2,10",
        ),
        (
            "plan --rates 2,2".to_owned(),
            "invalid-parameter",
            "--rates: the two are equal: there is nothing to see",
        ),
        (
            "plan --rates 2,200".to_owned(),
            "invalid-parameter",
            "--rates: 200 is not between 0 and 100",
        ),
        (
            "plan --rough-under 0".to_owned(),
            "invalid-parameter",
            "--rough-under: 0 is not between 0 and 100",
        ),
        (
            "plan --spread 1 --see 0".to_owned(),
            "invalid-parameter",
            "0 is not above 0",
        ),
        (
            "plan --spread 1 --see 1 --share 2".to_owned(),
            "invalid-parameter",
            "--share: 2 is no share. Give a part of one, such as 0.2",
        ),
        (
            "plan --spread 100 --see 1".to_owned(),
            "invalid-parameter",
            "--see: that takes more than 100000 starts of each prep. Ask for a larger difference",
        ),
        (
            "plan --rates 2,2.01".to_owned(),
            "invalid-parameter",
            "--rates: to tell them apart takes more than 100000 starts of each prep. Ask for rates further apart",
        ),
        (
            "plan --spread 1 --see 1 --preps A,B,C,D,E,F --coupons 1".to_owned(),
            "invalid-parameter",
            "--preps: 6 preps cannot be planned for. Compare 2 to 5",
        ),
        (
            "plan --spread 1 --see 1 --two-stage --level 0.9".to_owned(),
            "invalid-parameter",
            "--two-stage: two stages are planned for two preps at level 0.95 only. Leave the level at that, and compare two preps at a time",
        ),
        (
            "plan --pilot starts.csv --measure start_ms --see 5".to_owned(),
            "invalid-parameter",
            "its tips are too few to tell how tips of one grind differ in start_ms. Grind at least two more tips and name each in the sheet (tip_id), or give a spread and a share",
        ),
    ];
    said_to(&cases);
}

#[test]
fn of_planning_an_order() {
    let order = "plan --preps A,B --coupons 1,2";
    let cases = [
        (
            order.to_owned(),
            "incomplete-question",
            "--starts: not given, and no question says how many. Give --starts 30, for example",
        ),
        (format!("{order} --starts 0"), "", "--starts"),
        (
            format!("{order} --starts 100000 --per-tip 1"),
            "invalid-parameter",
            "recordings, more than ",
        ),
        (
            "plan --preps A,A --coupons 1 --starts 2".to_owned(),
            "invalid-parameter",
            "--preps: 'A' stands there twice",
        ),
        (
            "plan --preps A --coupons 1 --starts 2".to_owned(),
            "invalid-parameter",
            "--preps: 1 named, at least 2 expected",
        ),
        (
            format!("{order} --starts 2 --sheet starts.csv"),
            "output-exists",
            "starts.csv: is there already. Name a new file: a sheet that somebody filled in is not written over.",
        ),
        (
            format!("{order} --starts 2 --sheet new.csv"),
            "After writing",
            "2 tips to grind, 2 starts of each prep, written to new.csv in the order to strike them: fill in the rest as you go.",
        ),
    ];
    said_to(&cases);
}

/// [`all_said`] of lines that are put together.
fn said_to(cases: &[(String, &str, &str)]) {
    let cases: Vec<(&str, &str, &str)> = cases
        .iter()
        .map(|(call, heading, message)| (call.as_str(), *heading, *message))
        .collect();
    all_said(wrong_of(&cases));
}

#[test]
fn of_measuring_and_writing() {
    let cases = [
        (
            "measure sub",
            "no-recordings",
            "no recordings in this folder. Recordings end in ",
        ),
        (
            "measure starts.csv --why 9",
            "invalid-parameter",
            "--why: there is no row 9; the table has 8",
        ),
        (
            "measure starts.csv --why 1",
            "Beside the starts",
            "A starts table keeps the score, not the targets behind it: measure the job itself with --why to see them.",
        ),
        (
            "measure starts.csv --show 1",
            "Beside the starts",
            "A starts table holds no traces: measure the recordings to see them.",
        ),
        (
            "measure starts.csv --figure out",
            "no-starts",
            "--figure: there is nothing to draw: a starts table holds no traces. Name the job or the recordings of these starts",
        ),
        (
            "measure none.csv --figure out",
            "no-starts",
            "--figure: there is no start to draw. Name the job or the recordings of these starts",
        ),
        (
            "measure starts.csv --csv job.toml",
            "output-exists",
            "job.toml: already exists and is not a starts table. Name another file",
        ),
        (
            "measure starts.csv --csv starts.csv",
            "output-exists",
            "starts.csv: is an input of this answer. Name another file: inputs are not overwritten",
        ),
        (
            "measure starts.csv --csv - --jsonl -",
            "output-unclear",
            "two outputs cannot share stdout. Name a file for one of them",
        ),
        (
            "measure starts.csv --csv no/where.csv",
            "system",
            "no/where.csv: cannot write: there is no such folder",
        ),
        ("measure latin.csv", "system", "latin.csv"),
    ];
    all_said(wrong_of(&cases));
}

#[test]
fn of_one_recording() {
    let cases = [
        (
            "measure a.wav b.wav --follow",
            "needs-whole-recording",
            "measure: only one recording can be followed at a time. Start one command for each",
        ),
        (
            "measure - --why 1",
            "needs-whole-recording",
            "measure -: --figure, --why and --show need a whole recording. Save it to a file first",
        ),
        (
            "measure - --csv starts.csv",
            "output-unclear",
            "measure: live starts go to stdout only. Give --csv - or --jsonl - and redirect it to a file",
        ),
        (
            "measure --follow . --job job.toml",
            "not-a-file",
            "is a folder. Name the recording that is being written",
        ),
        (
            "measure --follow rest.csv --job ac.toml",
            "needs-whole-recording",
            "[logger] high_pass_hz: the low end of an AC-coupled logger is restored over a whole recording only. Record to a file, and measure that",
        ),
        (
            "measure rest.csv --job job.toml --prep A",
            "Beside the starts",
            "No start was found in rest.csv.",
        ),
        (
            "measure rest.csv --job job.toml --prep B",
            "unknown-prep",
            "--prep: no prep \"B\" in the job file. It has A",
        ),
        (
            "measure rest.csv --prep B",
            "unknown-prep",
            "--prep: no job file says what prep \"B\" is. Name the job file whose preps and logger serve these recordings. --job names that file",
        ),
        (
            "inspect rest.csv --figure traces",
            "output-unclear",
            "traces: ends in neither .svg nor .png. Name it like traces.svg",
        ),
        (
            "inspect rest.csv rest.csv --figure traces.svg",
            "invalid-parameter",
            "--figure: only one recording can be drawn at a time",
        ),
        (
            "report --verify rest.csv",
            "not-a-page",
            "rest.csv: is not a page that tells the files it was made from. Name a page written by report",
        ),
        (
            "demo .",
            "output-exists",
            ".: the folder is not empty. Name a new one: demo overwrites nothing",
        ),
        (
            "manual help",
            "After writing",
            "Man pages and shell completions are in help.",
        ),
    ];
    all_said(wrong_of(&cases));
}

fn wrong_of(cases: &[(&str, &str, &str)]) -> Vec<String> {
    let rest = "time (s),current (A)\n".to_owned()
        + &(0..400)
            .map(|k| format!("{:.3},{}\n", k as f64 / 1e3, k % 2))
            .collect::<String>();
    let files = [
        ("starts.csv", starts()),
        (
            "none.csv",
            starts().lines().next().unwrap().to_owned() + "\n",
        ),
        ("rest.csv", rest),
        ("job.toml", "[prep.A]\n".to_owned()),
        ("sub/notes.md", "nothing recorded\n".to_owned()),
        (
            "ac.toml",
            "[logger]\nhigh_pass_hz = 1\n[prep.A]\n".to_owned(),
        ),
    ];
    let files: Vec<(&str, &str)> = files
        .iter()
        .map(|(name, text)| (*name, text.as_str()))
        .collect();
    let wrong = cases.iter().filter_map(|(call, heading, message)| {
        let args: Vec<&str> = call.split(' ').collect();
        lacking(call, &said(&files, &args), heading, message)
    });
    wrong.collect()
}
