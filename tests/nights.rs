//! `screen` left on every night: folders of cells, copies, files at work, a table that grows.

use std::path::Path;
use std::process::{Command, Output};

use crate::study_support::{clean, normal, start};
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;
use serde_json::Value;
use tipstrike::measuring::table;
use tipstrike::score::StartRow;

fn screen(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .arg("screen")
        .args(args)
        .current_dir(folder)
        .output()
        .unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)))
}

fn save(path: &Path, rows: &[StartRow]) {
    let mut bytes = Vec::new();
    table::write_csv(rows, &mut bytes).unwrap();
    std::fs::write(path, bytes).unwrap();
}

#[test]
fn cells_with_one_file_name_stay_two_copies_count_once_and_a_file_at_work_waits() {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let put = |from: &str, to: &str, part: usize| {
        let bytes = std::fs::read(samples.join(from)).unwrap();
        let path = folder.path().join(to);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, &bytes[..bytes.len() / part]).unwrap();
    };
    put("job.toml", "job.toml", 1);
    put("lid-1-A1.wav", "cell3/run.wav", 1);
    put("lid-2-A3.wav", "cell7/run.wav", 1);
    put("lid-1-A1.wav", "cell9/again.wav", 1);
    put("lid-2-B4.wav", "cell7/now.wav", 2);
    let done = screen(
        folder.path(),
        &[".", "--anew", "--by", "folder", "--json", "-"],
    );
    let found = json(&done);
    let texts = |path: &str, key: &str| -> Vec<String> {
        let items = found[path].as_array().unwrap();
        items
            .iter()
            .map(|i| i[key].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(found["schema"], 2);
    assert_eq!(
        texts("recordings", "recording"),
        ["cell3/run.wav", "cell7/run.wav"]
    );
    assert_eq!(found["still_written"], serde_json::json!(["cell7/now.wav"]));
    assert_eq!(
        found["copies"],
        serde_json::json!([{"recording": "cell9/again.wav", "same_as": "cell3/run.wav"}])
    );
    let mut groups = texts("groups", "id");
    groups.sort();
    assert_eq!(groups, ["cell3", "cell7"]);
    let answer = found["answer"].as_str().unwrap();
    assert!(
        answer.contains("left for the next time: cell7/now.wav."),
        "{answer}"
    );
    assert!(
        answer.contains("counted once: cell9/again.wav (as cell3/run.wav)."),
        "{answer}"
    );
    // Nothing lies in the folder itself.
    let flat = screen(folder.path(), &[".", "--anew", "--flat"]);
    assert_eq!(flat.status.code(), Some(2));
}

/// Where a recording holds a start more than its rows share out, nobody knows which row has one of its neighbour's.
#[test]
fn a_recording_with_more_starts_than_the_sheet_gives_passes_no_batch() {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for (from, to) in [("job.toml", "job.toml"), ("lid-1-A1.wav", "a.wav")] {
        std::fs::copy(samples.join(from), folder.path().join(to)).unwrap();
    }
    let sheet = |starts| format!("file,prep,starts\na.wav,A,{starts}\n");
    for (starts, pass) in [(3, false), (4, true), (5, false)] {
        std::fs::write(folder.path().join("runs.csv"), sheet(starts)).unwrap();
        let done = screen(folder.path(), &[".", "--anew", "--json", "-"]);
        assert_eq!(done.status.code(), Some(i32::from(!pass)), "{starts}");
        let found = json(&done);
        assert_eq!(found["pass"], pass, "{starts}");
        let said: Vec<&str> = found["miscounted"]
            .as_array()
            .unwrap()
            .iter()
            .filter_map(Value::as_str)
            .collect();
        assert_eq!(said.len(), usize::from(!pass), "{said:?}");
        assert!(
            said.iter()
                .all(|s| s.contains("starts of a.wav, and 4 were found")),
            "{said:?}"
        );
    }
}

/// A reader of the night's JSON finds its keys where they were: new ones come with a new number of the schema.
#[test]
fn the_keys_of_the_answer_come_in_one_order() {
    let folder = tempfile::tempdir().unwrap();
    save(&folder.path().join("1.csv"), &night(1, 0.0));
    let done = screen(folder.path(), &["1.csv", "--json", "-"]);
    let text = String::from_utf8(done.stdout).unwrap();
    let keys: Vec<&str> = text
        .lines()
        .filter_map(|line| line.strip_prefix("  \"")?.split_once('"'))
        .map(|(key, _)| key)
        .collect();
    assert_eq!(
        keys,
        [
            "schema",
            "pass",
            "over_limits",
            "starts",
            "rough",
            "no_light",
            "doubtful",
            "set_aside",
            "unscored",
            "by",
            "level",
            "not_read",
            "miscounted",
            "still_written",
            "copies",
            "groups",
            "charts",
            "alarms",
            "flags",
            "recordings",
            "accepted",
            "sampling",
            "short_charts",
            "empty",
            "regrind",
            "answer",
            "warnings",
        ]
    );
}

fn night(seed: u64, shift: f64) -> Vec<StartRow> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let row = |n: u32| StartRow {
        recording: format!("night{seed}.wav").into(),
        ..start("A", n, 70.0 + 3.0 * normal(&mut rng) - shift)
    };
    (1..=30).map(row).collect()
}

#[test]
fn tonights_charts_go_on_from_the_nights_before_and_a_night_twice_is_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let nights = || std::fs::read(path("nights.csv")).unwrap();
    let args = |input| [input, "--append", "nights.csv", "--json", "-"];
    for (name, rows) in [
        ("1.csv", night(1, 0.0)),
        ("2.csv", night(2, 0.0)),
        ("3.csv", night(3, 9.0)),
    ] {
        save(&path(name), &rows);
    }
    assert_eq!(json(&screen(folder.path(), &args("1.csv")))["pass"], true);
    let second = screen(folder.path(), &args("2.csv"));
    let chart = &json(&second)["charts"][0];
    assert_eq!(
        (&chart["baseline"], &chart["own_baseline"]),
        (&40.into(), &10.into())
    );
    let third = screen(folder.path(), &args("3.csv"));
    assert_eq!(third.status.code(), Some(1));
    let found = json(&third);
    assert_eq!(found["alarms"][0]["rule"], "rank_cusum");
    assert!(
        found["alarms"][0]["start"].as_u64().unwrap() <= 8,
        "{found}"
    );
    let kept = nights();
    for (input, first) in [("3.csv", &third), ("2.csv", &second)] {
        assert_eq!(screen(folder.path(), &args(input)).stdout, first.stdout);
        assert_eq!(nights(), kept);
    }
    let rows = table::read(&path("nights.csv")).unwrap();
    assert_eq!(rows.len(), 90);
    // The third night is no baseline of the fourth.
    save(&path("4.csv"), &night(4, 9.0));
    let fourth = json(&screen(folder.path(), &args("4.csv")));
    let baseline = fourth["charts"][0]["baseline"].as_u64().unwrap();
    assert!((60..68).contains(&baseline), "{baseline}");
    assert_eq!(fourth["pass"], false);
}

#[test]
fn quiet_says_the_verdict_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    save(&folder.path().join("good.csv"), &clean());
    let done = screen(folder.path(), &["good.csv", "--quiet"]);
    let text = String::from_utf8(done.stdout).unwrap();
    assert_eq!(
        text.split_whitespace().collect::<Vec<_>>().join(" "),
        "PASS: Clean: 30 starts, none rough, none past a limit. So many clean ones still allow up to 9.5 rough in 100 (one-sided 95 % bound)."
    );
    assert!(done.stderr.is_empty() && done.status.code() == Some(0));
}
