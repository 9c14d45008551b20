//! Job files and starts tables.

use super::*;

#[test]
fn job_files_without_end_do_no_harm() {
    let nest = |open: &str, close: &str, deep: usize| {
        format!("x = {}{}", open.repeat(deep), close.repeat(deep))
    };
    let dotted = format!("{}a = 1\n", "a.".repeat(100_000));
    let tables = format!("[{}a]\n", "a.".repeat(100_000));
    let cases: Vec<Try> = vec![
        (
            "lists in lists",
            nest("[", "]", 100_000),
            2,
            &["job.toml, line 1"],
        ),
        (
            "tables in tables",
            nest("{a=", "}", 100_000),
            2,
            &["job.toml, line 1"],
        ),
        ("100000 dots", dotted, 2, &["job.toml"]),
        ("100000 dots in a head", tables, 2, &["job.toml"]),
        (
            "17 MB",
            format!("# {}", "x".repeat(17 << 20)),
            2,
            &["at most 16777216"],
        ),
        (
            "a key of 10 MB",
            format!("[logger]\n{} = 1\n", "k".repeat(10 << 20)),
            2,
            &["is not known"],
        ),
    ];
    jobs_hold(&cases);
}

#[test]
fn values_made_to_attack_do_no_harm() {
    let cases: Vec<Try> = vec![
        (
            "a number that is none",
            "[measuring]\nobserve_s = nan\n".into(),
            2,
            &["line 2", "expected a number above 0"],
        ),
        (
            "a window without end",
            "[measuring]\nobserve_s = inf\n".into(),
            2,
            &["line 2", "expected a number above 0"],
        ),
        (
            "a window of 1e300 s",
            format!("[measuring]\nobserve_s = 1e300\n{RULES}"),
            0,
            &[],
        ),
        (
            "a hold of 1e-300 ms",
            format!("[measuring]\nhold_ms = 1e-300\n{RULES}"),
            0,
            &[],
        ),
        (
            "a band of nothing",
            "[measuring]\nwander_from_hz = 9\nwander_to_hz = 9\n".into(),
            2,
            &["is empty"],
        ),
        (
            "a channel under 0",
            "[logger]\ncurrent = { channel = -1 }\n".into(),
            2,
            &["channel"],
        ),
        (
            "channel 0",
            RULES.replace("channel = 1", "channel = 0"),
            3,
            &["Channels are counted from 1"],
        ),
        (
            "channel 65536",
            RULES.replace("channel = 1", "channel = 65536"),
            2,
            &["channel"],
        ),
        (
            "a shunt of 0 mV",
            RULES.replace(
                "amps_at_full_scale = 300",
                "volts_at_full_scale = 1, shunt = { amps = 1, millivolts = 0 }",
            ),
            3,
            &["scale does not work out"],
        ),
        (
            "a scale of 1e308",
            RULES.replace("= 300", "= 1e308"),
            0,
            &[],
        ),
        (
            "a rate of 1e-300 Hz",
            format!("{RULES}[logger.time]\nunit = \"s\"\n")
                .replace("[logger]", "[logger]\nrate_hz = 1e-300"),
            3,
            &["is not the rate of a logger"],
        ),
        (
            "a prep that steers the terminal",
            format!("{RULES}[prep.\"\\u001b[2J\"]\ntaper_deg = 500\n"),
            2,
            &["\\u{1b}[2J"],
        ),
        (
            "a taper that is none",
            format!("{RULES}taper_deg = inf\n"),
            2,
            &["taper_deg"],
        ),
        (
            "bytes that are no text",
            "[job]\ntitle = \"\u{0}\"\n".into(),
            2,
            &["line 2"],
        ),
    ];
    jobs_hold(&cases);
}

fn jobs_hold(cases: &[Try]) {
    all_hold(
        cases
            .iter()
            .filter_map(|(tries, rules, code, words)| {
                let folder = job(rules, b"file,prep\ngood.wav,A\n");
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

#[test]
fn tables_made_to_attack_do_no_harm() {
    let head = "recording,run,prep,start,t_first_s";
    let line = |more: &str| {
        format!("{{\"recording\":\"a\",\"run\":1,\"prep\":\"A\",\"start\":1{more}}}\n")
    };
    let deep = format!(",\"x\":{}{}", "[".repeat(100_000), "]".repeat(100_000));
    let wide: String = (0..200_000).map(|k| format!(",\"x{k}\":1")).collect();
    let cases: Vec<Try> = vec![
        (
            "lists in lists",
            line(&deep),
            2,
            &["line 1", "no JSON object"],
        ),
        (
            "numbers past f64",
            line(",\"t_first_s\":1e999"),
            2,
            &["line 1"],
        ),
        (
            "a run past u32",
            line("").replace("\"run\":1", "\"run\":4294967296"),
            2,
            &["line 1", "run"],
        ),
        (
            "a start under 0",
            format!("{head}\na,1,A,-1,0\n"),
            2,
            &["line 2", "start"],
        ),
        (
            "a time that is none",
            format!("{head}\na,1,A,1,nan\n"),
            2,
            &["line 2", "t_first_s"],
        ),
        (
            "a score of a million",
            format!("{head},score\na,1,A,1,0,1e6\n"),
            2,
            &["line 2", "score"],
        ),
        (
            "the same start twice",
            format!("{head}\na,1,A,1,0\na,1,A,1,0\n"),
            2,
            &["line 3", "twice"],
        ),
        (
            "a row too short",
            format!("{head}\na,1\n"),
            2,
            &["line 2", "2 cells found"],
        ),
        ("200000 columns of one start", line(&wide), 0, &[]),
    ];
    all_hold(
        cases
            .iter()
            .filter_map(|(tries, table, code, words)| {
                let folder = tempfile::tempdir().unwrap();
                std::fs::write(folder.path().join("starts.csv"), table).unwrap();
                fault(
                    tries,
                    &tipstrike(folder.path(), &["compare", "starts.csv"]),
                    *code,
                    words,
                )
            })
            .collect(),
    );
}
