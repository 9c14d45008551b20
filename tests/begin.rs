//! The way in: recordings of a WAV recorder, or of a table logger with a shunt in mV and decimal commas, become a job and a
//! verdict by a handful of commands. The recordings are those of the samples, whose truth is known.

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn tipstrike(folder: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    command.args(args).current_dir(folder).stdin(Stdio::null());
    command.env("XDG_CACHE_HOME", folder.join("kept"));
    command.output().unwrap()
}

/// What a call printed on stdout; it must have gone well.
fn said(folder: &Path, args: &[&str]) -> String {
    let output = tipstrike(folder, args);
    let error = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(0), "{args:?}: {error}");
    String::from_utf8(output.stdout).unwrap()
}

/// What a refused call said on stderr.
fn refused(folder: &Path, args: &[&str]) -> String {
    let output = tipstrike(folder, args);
    assert_eq!(output.status.code(), Some(2), "{args:?}");
    String::from_utf8(output.stderr).unwrap()
}

/// Begins a job with the scales of the samples.
const WIRED: [&str; 6] = [
    "begin",
    "bench",
    "--amps-at-full-scale",
    "200",
    "--volts-at-full-scale",
    "120",
];

/// Recordings of the samples: the first `count` of the lids.
fn lids(count: usize) -> Vec<PathBuf> {
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let all = std::fs::read_dir(samples)
        .unwrap()
        .map(|entry| entry.unwrap().path());
    let is_lid = |path: &PathBuf| {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        name.starts_with("lid-") && name.ends_with(".wav")
    };
    let mut lids: Vec<PathBuf> = all.filter(is_lid).collect();
    lids.sort();
    lids.truncate(count);
    lids
}

fn bench(folder: &Path, recordings: &[PathBuf]) {
    std::fs::create_dir(folder.join("bench")).unwrap();
    for path in recordings {
        let to = folder.join("bench").join(path.file_name().unwrap());
        std::fs::copy(path, to).unwrap();
    }
}

/// A lid as a table logger writes it: a row of units, the shunt in mV, decimal commas. The samples' full scale is 200 A and 120 V.
fn as_table(path: &Path) -> String {
    let mut wav = hound::WavReader::open(path).unwrap();
    let rate = f64::from(wav.spec().sample_rate);
    let values: Vec<f64> = wav
        .samples::<i16>()
        .map(|v| f64::from(v.unwrap()) / 32768.0)
        .collect();
    let mut text = "Zeit;Kanal A;Kanal B\ns;mV;V\n".to_owned();
    for (k, pair) in values.chunks(2).enumerate() {
        let (t, mv, v) = (
            k as f64 / rate,
            200.0 * pair[0] * 60.0 / 200.0,
            120.0 * pair[1],
        );
        text += &format!("{t:.5};{mv:.4};{v:.3}\n").replace('.', ",");
    }
    text
}

/// First line of a comparison: who starts better.
fn verdict(text: &str) -> &str {
    text.split(':').next().unwrap()
}

#[test]
fn a_folder_of_wav_recordings_becomes_a_job_with_the_verdict_of_the_samples() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(20));
    let begun = said(
        folder.path(),
        &[
            "begin",
            "bench",
            "--amps-at-full-scale",
            "200",
            "--volts-at-full-scale",
            "120",
            "--mains-hz",
            "60",
        ],
    );
    assert!(begun.contains("tipstrike prep bench"), "{begun}");
    let sheet = std::fs::read_to_string(folder.path().join("bench/runs.csv")).unwrap();
    assert!(sheet.contains("lid-1-A1.wav,A,A1,"), "{sheet}");
    let answer = said(folder.path(), &["compare", "bench"]);
    assert_eq!(verdict(&answer), "A starts better than B");
}

#[test]
fn a_shunt_in_millivolts_with_decimal_commas_measures_what_the_wav_recording_does() {
    let folder = tempfile::tempdir().unwrap();
    let lid = &lids(1)[0];
    bench(folder.path(), &[]);
    let table = folder.path().join("bench/lid-1-A1.csv");
    std::fs::write(table, as_table(lid)).unwrap();
    let inspected = said(folder.path(), &["inspect", "bench/lid-1-A1.csv"]);
    assert!(
        inspected.contains("\"Kanal A\": current (current flows where"),
        "{inspected}"
    );
    assert!(
        inspected.contains("shunt = { amps = 200, millivolts = 60 }"),
        "{inspected}"
    );
    said(
        folder.path(),
        &["begin", "bench", "--shunt", "200 A / 60 mV"],
    );
    said(folder.path(), &["measure", "bench", "--csv", "starts.csv"]);
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let samples = samples.to_str().unwrap();
    said(folder.path(), &["measure", samples, "--csv", "wav.csv"]);
    let column = |file: &str, name: &str| -> Vec<f64> {
        let mut table = csv::Reader::from_path(folder.path().join(file)).unwrap();
        let place =
            |name: &str, head: &csv::StringRecord| head.iter().position(|n| n == name).unwrap();
        let head = table.headers().unwrap().clone();
        let rows = table.records().map(Result::unwrap);
        let of_lid = rows.filter(|row| row[place("recording", &head)].starts_with("lid-1-A1"));
        of_lid
            .map(|row| row[place(name, &head)].parse().unwrap())
            .collect()
    };
    for (name, within) in [("start_ms", 0.3), ("run_a", 0.05), ("run_v", 0.02)] {
        let (from_table, from_wav) = (column("starts.csv", name), column("wav.csv", name));
        assert_eq!(from_table.len(), from_wav.len(), "{name}");
        for (table, wav) in from_table.iter().zip(&from_wav) {
            assert!(
                (table - wav).abs() <= within,
                "{name}: {table} is not {wav} within {within}"
            );
        }
    }
}

#[test]
fn what_nobody_answers_is_asked_for_by_its_option_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(1));
    let cases: [(&[&str], &str); 4] = [
        (&[], "--shunt: nothing says how many amps"),
        (
            &["--shunt", "200 A / 60 mV"],
            "--volts-at-full-scale: this recording does not say how many volts",
        ),
        (&["--shunt", "200 A"], "write it as on the plate"),
        (
            &["--current", "7", "--amps-at-full-scale", "200"],
            "--current 7: lid-1-A1.wav has no such channel",
        ),
    ];
    for (options, expected) in cases {
        let error = refused(folder.path(), &[&["begin", "bench"], options].concat());
        assert!(error.contains(expected), "{error}");
    }
    let empty = folder.path().join("empty");
    std::fs::create_dir(&empty).unwrap();
    let error = refused(folder.path(), &["begin", "empty"]);
    assert!(error.contains("Record a test arc into it first"), "{error}");
    assert_eq!(
        std::fs::read_dir(folder.path().join("bench"))
            .unwrap()
            .count(),
        1
    );
}

#[test]
fn a_job_that_is_there_is_never_written_over() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(1));
    said(folder.path(), &WIRED);
    let error = refused(folder.path(), &WIRED);
    assert!(error.contains("runs.csv: is there already"), "{error}");
}

/// As after a kill between the two files, or where somebody wrote the job file alone.
#[test]
fn a_job_file_without_a_sheet_stays_and_gets_its_sheet() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(2));
    said(folder.path(), &WIRED);
    let [job, sheet] = ["bench/job.toml", "bench/runs.csv"].map(|name| folder.path().join(name));
    let text = std::fs::read_to_string(&job).unwrap() + "# mine\n";
    std::fs::write(&job, &text).unwrap();
    let first = std::fs::read_to_string(&sheet).unwrap();
    std::fs::remove_file(&sheet).unwrap();
    said(folder.path(), &["begin", "bench"]);
    assert_eq!(std::fs::read_to_string(&job).unwrap(), text);
    assert_eq!(std::fs::read_to_string(&sheet).unwrap(), first);
}

#[test]
fn a_test_arc_is_enough_to_plan_the_strikes() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(1));
    let planned = [
        "--preps",
        "A,B",
        "--coupons",
        "L1,L2",
        "--tips",
        "6",
        "--per-tip",
        "4",
    ];
    said(folder.path(), &[&WIRED[..], &planned[..]].concat());
    let sheet = std::fs::read_to_string(folder.path().join("bench/runs.csv")).unwrap();
    assert_eq!(sheet.lines().count(), 13, "{sheet}");
    for tip in ["A1", "A6", "B1", "B6"] {
        assert!(
            sheet.contains(&format!(
                "grind {} anew (tip {tip}), strike 4 starts",
                &tip[..1]
            )),
            "{sheet}"
        );
    }
    assert!(said(folder.path(), &["prep", "bench"]).contains('A'));
}

#[test]
fn a_fumbled_start_is_set_aside_by_its_row_and_stays_visible() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(2));
    said(folder.path(), &WIRED);
    let rows = |args: &[&str]| -> Vec<(String, String)> {
        said(
            folder.path(),
            &[&["measure", "bench", "--csv", "starts.csv"], args].concat(),
        );
        let mut table = csv::Reader::from_path(folder.path().join("starts.csv")).unwrap();
        let head = table.headers().unwrap().clone();
        let place = |name: &str| head.iter().position(|n| n == name).unwrap();
        let (at, why) = (place("t_first_s"), place("exclude"));
        table
            .records()
            .map(|row| row.unwrap())
            .map(|row| (row[at].to_owned(), row[why].to_owned()))
            .collect()
    };
    let before = rows(&[]);
    let told = said(
        folder.path(),
        &["aside", "bench", "6", "--because", "fumbled"],
    );
    assert!(told.contains("Row 6: start 2 of lid-1-A2.wav"), "{told}");
    let after = rows(&[]);
    let times = |rows: &[(String, String)]| -> Vec<String> {
        rows.iter().map(|row| row.0.clone()).collect()
    };
    assert_eq!(
        times(&before),
        times(&after),
        "no start is lost, and their order stays"
    );
    let aside: Vec<usize> = (0..after.len())
        .filter(|k| after[*k].1 == "fumbled")
        .collect();
    assert_eq!(aside, [5]);
    said(folder.path(), &["aside", "bench", "6", "--back"]);
    assert!(rows(&[]).iter().all(|row| row.1.is_empty()));
    let error = refused(
        folder.path(),
        &["aside", "bench", "99", "--because", "fumbled"],
    );
    assert!(
        error.contains("--row 99: there is no row 99; the table has 8"),
        "{error}"
    );
    let error = refused(
        folder.path(),
        &["aside", "starts.csv", "1", "--because", "fumbled"],
    );
    assert!(error.contains("is no job"), "{error}");
}

#[test]
fn slips_of_the_pen_get_their_way_out() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(1));
    let job = folder.path().join("bench/job.toml");
    let wired = [
        "begin",
        "bench",
        "--amps-at-full-scale",
        "200,0",
        "--volts-at-full-scale",
        "120",
    ];
    said(folder.path(), &wired);
    let error = refused(folder.path(), &["compare", "bench", "--measure", "start"]);
    assert!(error.contains("Did you mean 'start_ms'?"), "{error}");
    let error = refused(folder.path(), &["screen", "bench", "--sampling", "2,500"]);
    assert!(
        error.contains("the comma can be read in two ways"),
        "{error}"
    );
    let plan = said(
        folder.path(),
        &[
            "plan",
            "--spread",
            "30,5",
            "--see",
            "20",
            "--measure",
            "start_ms",
        ],
    );
    let point = said(
        folder.path(),
        &[
            "plan",
            "--spread",
            "30.5",
            "--see",
            "20",
            "--measure",
            "start_ms",
        ],
    );
    assert_eq!(plan, point);
    let text = std::fs::read_to_string(&job).unwrap();
    std::fs::write(&job, text.replace("= 120.0", "= 120,5")).unwrap();
    let error = refused(folder.path(), &["measure", "bench"]);
    assert!(
        error.contains("Write numbers with a point: 120.5, not 120,5"),
        "{error}"
    );
    std::fs::rename(&job, folder.path().join("bench/job.toml.txt")).unwrap();
    let error = refused(folder.path(), &["measure", "bench"]);
    assert!(error.contains("rename it to job.toml"), "{error}");
}

#[test]
fn a_shunt_ten_times_off_is_said_where_the_sheet_holds_the_amps() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path(), &lids(2));
    said(
        folder.path(),
        &[
            "begin",
            "bench",
            "--amps-at-full-scale",
            "20",
            "--volts-at-full-scale",
            "120",
        ],
    );
    let sheet = folder.path().join("bench/runs.csv");
    let text = std::fs::read_to_string(&sheet).unwrap();
    std::fs::write(
        &sheet,
        text.replace("set_a", "set_amps")
            .replace("coupon", "set_a")
            .replace(",A1,,", ",A1,80,")
            .replace(",A2,,", ",A2,80,"),
    )
    .unwrap();
    for verb in ["compare", "screen"] {
        let output = tipstrike(folder.path(), &[verb, "bench"]);
        let error = String::from_utf8_lossy(&output.stderr);
        assert!(
            error.contains("8 doubtful starts, the first: 8.0 A where the run sheet sets 80 A"),
            "{verb}: {error}"
        );
    }
}
