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
            "--by hand: none of 8 starts has it. They can be grouped by ",
        ),
        (
            "compare starts.csv --measure bead",
            "--measure bead: this is neither a measure nor a sheet column with numbers. docs/measures.md lists the measures; a column of the run sheet goes by its heading.",
        ),
        (
            "compare starts.csv --better score=lower",
            "--better score: which way this measure is better is fixed. --better is for numeric columns of your own sheet, such as bead_mm=higher.",
        ),
        (
            "compare starts.csv --better bead_mm=wide",
            "wide is neither lower nor higher",
        ),
        (
            "compare starts.csv --margin score",
            "expected NAME=VALUE, such as start_ms=20",
        ),
        ("compare starts.csv --margin score=few", "few is no number"),
        (
            "compare starts.csv --margin score=0",
            "a margin is more than 0, not 0",
        ),
        ("compare starts.csv --first -1", "expected"),
        (
            "compare starts.csv --level 2",
            "expected a number from 0.5 to 0.9999, such as 0.95",
        ),
        (
            "compare starts.csv starts.csv",
            "comes in twice, so it would be counted twice. Name each job, table or recording once; not a table beside the job it was made from.",
        ),
        (
            "screen starts.csv --by hand",
            "--by hand: no start has this column. Group by prep, coupon, recording, folder or a column of the run sheet",
        ),
        (
            "screen starts.csv --regrind-at run_a=5",
            "--regrind-at: no wear is looked for in run_a. It is in ",
        ),
        (
            "screen starts.csv --sampling 3",
            "--sampling: 3 is no acceptance limit of ISO 2859-1. Take one of 0.01 0.015 0.025 0.04 0.065 0.1 0.15 0.25 0.4 0.65 1 1.5 2.5 4 6.5",
        ),
        (
            "screen starts.csv --sampling 1 --lot 0",
            "expected a whole number from 1",
        ),
        (
            "screen starts.csv",
            "A has 4 starts, too few for a chart of score: it takes 21. Strike more, or go on from earlier starts.",
        ),
        (
            "screen starts.csv --accept 0",
            "expected a percentage from 0.001 to under 100, such as 2%",
        ),
        (
            "screen starts.csv --baseline-from none.csv",
            "none.csv: there is no start to make limits from. Name a job or a table of starts that are known to be good",
        ),
        (
            "compare none.csv",
            "compare: there is no start to compare. tipstrike inspect shows what is in a recording",
        ),
    ];
    all_said(wrong_of(&cases));
}

#[test]
fn of_planning() {
    let order = "plan --preps A,B --coupons 1,2";
    let cases = [
        (
            "plan".to_owned(),
            "plan: no question is asked. Give --see with --pilot or --spread, --rates, --rough-under, or --preps with --coupons; see --help.",
        ),
        (
            "plan --rates 2".to_owned(),
            "--rates: expected two rates, such as 2,10",
        ),
        (
            "plan --rates 2,2".to_owned(),
            "--rates: the two are equal: there is nothing to see",
        ),
        (
            "plan --rates 2,200".to_owned(),
            "--rates: 200 is not between 0 and 100",
        ),
        (
            "plan --rough-under 0".to_owned(),
            "--rough-under: 0 is not between 0 and 100",
        ),
        ("plan --spread 1 --see 0".to_owned(), "0 is not above 0"),
        (
            "plan --pilot starts.csv --measure start_ms --see 5".to_owned(),
            "no prep has two starts with start_ms. Strike a few starts first, or give --spread.",
        ),
        (
            order.to_owned(),
            "--starts: not given, and no question says how many. Give --starts 30, for example.",
        ),
        (format!("{order} --starts 0"), "--starts"),
        (
            format!("{order} --starts 100000 --per-run 1"),
            "recordings, more than ",
        ),
        (
            "plan --preps A,A --coupons 1 --starts 2".to_owned(),
            "--preps: 'A' stands there twice",
        ),
        (
            "plan --preps A --coupons 1 --starts 2".to_owned(),
            "--preps: 1 named, at least 2 expected",
        ),
        (
            format!("{order} --starts 2 --sheet starts.csv"),
            "starts.csv: is there already. Name a new file: a sheet that somebody filled in is not written over.",
        ),
        (
            format!("{order} --starts 2 --sheet new.csv"),
            "4 runs of 5 starts written to new.csv: fill in the rest as you strike.",
        ),
    ];
    let cases: Vec<(&str, &str)> = cases
        .iter()
        .map(|(call, message)| (call.as_str(), *message))
        .collect();
    all_said(wrong_of(&cases));
}

#[test]
fn of_measuring_and_writing() {
    let cases = [
        (
            "measure sub",
            "no recordings in this folder. Recordings end in ",
        ),
        (
            "measure starts.csv --why 9",
            "--why: there is no row 9; the table has 8",
        ),
        (
            "measure starts.csv --why 1",
            "A starts table keeps the score, not the targets behind it: measure the job itself with --why to see them.",
        ),
        (
            "measure starts.csv --show 1",
            "A starts table holds no traces: measure the recordings to see them.",
        ),
        (
            "measure starts.csv --figure out",
            "--figure: there is nothing to draw: a starts table holds no traces. Name the job or the recordings that the starts are in",
        ),
        (
            "measure none.csv --figure out",
            "--figure: there is no start to draw. Name the job or the recordings that the starts are in",
        ),
        (
            "measure starts.csv --csv job.toml",
            "job.toml: is there already, and is no starts table. Name another file",
        ),
        (
            "measure starts.csv --csv starts.csv",
            "starts.csv: was read for this answer. Name another file: what was read is not written over",
        ),
        (
            "measure starts.csv --csv - --jsonl -",
            "two outputs cannot share stdout. Give one of them a file's name",
        ),
        (
            "measure starts.csv --csv no/where.csv",
            "no/where.csv: cannot write: there is no such folder",
        ),
        ("measure latin.csv", "latin.csv"),
        (
            "measure a.wav b.wav --follow",
            "measure: one recording at a time can be followed. Start the command once for each",
        ),
        (
            "measure - --why 1",
            "measure -: --figure, --why and --show need a whole recording. Save it to a file first",
        ),
        (
            "measure - --csv starts.csv",
            "measure: starts that are told one by one go to stdout. Give --csv - or --jsonl -, and send that to a file",
        ),
        (
            "measure --follow . --job job.toml",
            "is a folder. Name the recording that is being written",
        ),
        (
            "measure --follow rest.csv --job ac.toml",
            "[logger] high_pass_hz: the low end of an AC-coupled logger is restored over a whole recording only. Record to a file, and measure that",
        ),
        (
            "measure rest.csv --job job.toml --prep A",
            "No start was found in rest.csv.",
        ),
        (
            "measure rest.csv --job job.toml --prep B",
            "--prep: no prep \"B\" in the job file. It has A",
        ),
        (
            "measure rest.csv --prep B",
            "--prep: no job file says what prep \"B\" is. Name the job file whose preps and logger serve these recordings with --job",
        ),
        (
            "inspect rest.csv --figure traces",
            "traces: ends neither in .svg nor in .png, so what to draw is not known. Name it such as traces.svg",
        ),
        (
            "inspect rest.csv rest.csv --figure traces.svg",
            "--figure: one recording is drawn at a time",
        ),
        (
            "demo .",
            ".: the folder is not empty. Name a new one: demo overwrites nothing",
        ),
        (
            "manual help",
            "Man pages and shell completions are in help.",
        ),
    ];
    all_said(wrong_of(&cases));
}

fn wrong_of(cases: &[(&str, &str)]) -> Vec<String> {
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
    let wrong = cases.iter().filter_map(|(call, message)| {
        let args: Vec<&str> = call.split(' ').collect();
        lacking(call, &said(&files, &args), message)
    });
    wrong.collect()
}
