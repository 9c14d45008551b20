//! Tables of starts with one fault each, and the whole message that it gets.

use super::{all_said, lacking, said};

const HEAD: &str = "run,recording,start,prep,t_first_s,t_lit_s,lit";

/// Each text as a table of a name, read with all its columns, gets its message.
fn all_said_of(name: &str, cases: &[(String, &str, &str)]) {
    let wrong = cases.iter().filter_map(|(table, heading, message)| {
        lacking(
            table,
            &said(&[(name, table)], &["measure", name]),
            heading,
            message,
        )
    });
    all_said(wrong.collect());
}

#[test]
fn of_a_table_of_starts() {
    let rows = |more: &str, cells: &[&str]| {
        let rows = cells.iter().enumerate();
        let rows = rows.map(|(k, cells)| format!("1,a.wav,{},A,{cells}\n", k + 1));
        format!("{HEAD}{more}\n{}", rows.collect::<String>())
    };
    let cases = [
        (
            rows("", &["1,2,true,4"]),
            "starts-table",
            "line 2: 8 cells found, 7 expected as in the head line",
        ),
        (
            rows(",prep", &["1,2,true,A"]),
            "starts-table",
            "column \"prep\" stands there twice",
        ),
        (
            rows("", &["1,2,yes"]),
            "starts-value",
            "line 2: column \"lit\" is \"yes\", expected true or false",
        ),
        (
            rows("", &["1,,true"]),
            "starts-value",
            "line 2: column \"lit\" says true but \"t_lit_s\" is empty",
        ),
        (
            rows("", &["1,2,false"]),
            "starts-value",
            "column \"lit\" says false but \"t_lit_s\" is given",
        ),
        (
            rows("", &["3,2,true"]),
            "starts-value",
            "column \"t_lit_s\" is 2, before \"t_first_s\" with 3",
        ),
        (
            rows(",attempts", &["1,2,true,1.5"]),
            "starts-value",
            "column \"attempts\" is 1.5, expected a whole number from 0",
        ),
        (
            rows(",en_share_pct", &["1,2,true,101"]),
            "starts-value",
            "column \"en_share_pct\" is 101, expected 0 to 100",
        ),
        (
            rows(",score", &["1,2,true,-1"]),
            "starts-value",
            "column \"score\" is -1, expected 0 to 100",
        ),
        (
            rows(",start_ms", &["1,2,true,-1"]),
            "starts-value",
            "column \"start_ms\" is -1, expected 0 or more",
        ),
        (
            rows(",start_ms", &["1,2,true,NaN"]),
            "starts-value",
            "column \"start_ms\" is NaN, expected a number or nothing",
        ),
        (
            rows(",verdict", &["1,2,true,good"]),
            "starts-value",
            "column \"verdict\" is \"good\", expected one of crisp, fair, rough, no light",
        ),
        (
            rows(",flags", &["1,2,true,gaps"]),
            "starts-value",
            "column \"flags\" has no flag \"gaps\", the nearest is \"gap\"",
        ),
        (
            rows("", &["1,2,true"]) + "1,a.wav,1,A,1,2,true\n",
            "counted-twice",
            "line 3: the same start stands at line 2: it would be counted twice. Take one of the two away",
        ),
    ];
    all_said_of("starts.csv", &cases);
}

#[test]
fn of_a_table_of_starts_in_json_lines() {
    let line = |more: &str| {
        format!("{{\"run\":1,\"recording\":\"a.wav\",\"start\":1,\"prep\":\"A\"{more}}}\n")
    };
    let cases = [
        (
            line("") + "[1]\n",
            "starts-table",
            "One start is one object on one line",
        ),
        (
            line("") + "{\"run\":1}\n",
            "starts-table",
            "line 2: column \"recording\" is missing",
        ),
        (
            line(",\"score\":{}"),
            "starts-value",
            "line 1: column \"score\" holds an object or a list of other than names",
        ),
        (
            line(",\"score\":[\"a\"]"),
            "starts-value",
            "line 1: column \"score\" is a list, expected text or a number",
        ),
        (
            line(",\"prep\":\"B\""),
            "starts-table",
            "line 1: column \"prep\" stands there twice",
        ),
    ];
    all_said_of("starts.jsonl", &cases);
}
