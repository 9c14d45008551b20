//! Starts told while the recording is still being made, against the same recording measured as a file.

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use tipstrike::job::Job;
use tipstrike::measuring::gather::{GatherOptions, gather, job_by_rules};
use tipstrike::measuring::live::Follow;
use tipstrike::score::StartRow;

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("samples")
        .join(name)
}

fn job_of(file: &Path) -> Job {
    let rules = file.with_file_name("job.toml");
    job_by_rules(Some(&rules), None, &[file.to_path_buf()]).unwrap()
}

/// The starts of a file's bytes that come in pieces of a size.
fn followed(job: &Job, bytes: &[u8], size: usize) -> Vec<StartRow> {
    let mut follow = Follow::new(job, &job.runs[0]).unwrap();
    let mut rows = Vec::new();
    for piece in bytes.chunks(size) {
        rows.extend(follow.push(piece).unwrap());
    }
    rows.extend(follow.finish().unwrap());
    rows
}

fn measured(file: &Path) -> Vec<StartRow> {
    let rules = file.with_file_name("job.toml");
    let options = GatherOptions {
        job: Some(&rules),
        ..GatherOptions::default()
    };
    gather(&[file.to_path_buf()], &options).unwrap().rows
}

/// The zero comes from the last seconds instead of from the whole, and a start is told before its arc is out; else all is the same.
fn assert_alike(live: &[StartRow], file: &[StartRow]) {
    assert_eq!(live.len(), file.len());
    for (a, b) in live.iter().zip(file) {
        let close = |x: Option<f64>, y: Option<f64>, within: f64| match (x, y) {
            (Some(x), Some(y)) => assert!((x - y).abs() <= within, "{x} {y}, start {}", b.start),
            (x, y) => assert_eq!(x, y, "start {}", b.start),
        };
        close(a.instants.t_open_s, b.instants.t_open_s, 1e-4);
        close(a.instants.t_first_s, b.instants.t_first_s, 1e-4);
        close(a.instants.t_lit_s, b.instants.t_lit_s, 1e-4);
        close(a.measures.start_ms(), b.measures.start_ms(), 0.5);
        close(a.measures.run_a(), b.measures.run_a(), 0.05);
        close(a.measures.wander_v(), b.measures.wander_v(), 0.01);
        close(a.measures.rest_s(), b.measures.rest_s(), 1e-3);
        assert_eq!(a.measures.attempts(), b.measures.attempts());
        assert_eq!(a.measures.dropouts(), b.measures.dropouts());
        assert_eq!((a.start, a.verdict), (b.start, b.verdict));
    }
}

#[test]
fn what_comes_in_is_measured_as_the_file_is() {
    for name in ["lid-1-A1.wav", "lid-2-B4.wav", "skiffs/rib-1.csv"] {
        let file = sample(name);
        let bytes = std::fs::read(&file).unwrap();
        assert_alike(&followed(&job_of(&file), &bytes, 1 << 16), &measured(&file));
    }
}

#[test]
fn pieces_of_any_size_give_the_same_starts_to_the_bit() {
    for name in ["lid-2-B4.wav", "skiffs/rib-1.csv"] {
        let file = sample(name);
        let (job, bytes) = (job_of(&file), std::fs::read(&file).unwrap());
        let whole = followed(&job, &bytes, bytes.len());
        for size in [997, 10_000] {
            assert_eq!(followed(&job, &bytes, size), whole, "{name}, {size} bytes");
        }
    }
}

/// 16-bit stereo at 10 kHz: idle, open for 0.2 s, an arc of some seconds, idle.
fn arcs(seconds: &[f64]) -> (Vec<u8>, f64) {
    let rate = 10_000.0;
    let mut bytes = Vec::new();
    for arc in seconds {
        for k in 0..((arc + 2.2) * rate) as usize {
            let t = k as f64 / rate;
            let (amps, volts) = match t {
                t if t < 1.0 => (0.0, 0.0),
                t if t < 1.2 => (0.0, 70.0),
                t if t < 1.2 + arc => (80.0, 13.0),
                _ => (0.0, 0.0),
            };
            let noise = f64::from((k * 7919 % 101) as u32) / 101.0 - 0.5;
            let put = |value: f64, full: f64| ((value + 0.1 * noise) / full * 32_768.0) as i16;
            bytes.extend(put(amps, 300.0).to_le_bytes());
            bytes.extend(put(volts, 120.0).to_le_bytes());
        }
    }
    (bytes, rate)
}

/// A head that does not know the length, as a logger writes it before it is done.
fn head(rate: f64) -> Vec<u8> {
    let mut head = Vec::from(*b"RIFF\xff\xff\xff\xffWAVEfmt \x10\0\0\0\x01\0\x02\0");
    head.extend((rate as u32).to_le_bytes());
    head.extend((4 * rate as u32).to_le_bytes());
    head.extend(b"\x04\0\x10\0data\xff\xff\xff\xff");
    head
}

const RULES: &str = "[logger]\ncurrent = { channel = 1, amps_at_full_scale = 300 }\nvoltage = { channel = 2, volts_at_full_scale = 120 }\n";

fn rules() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.toml");
    std::fs::write(&path, RULES).unwrap();
    (folder, path)
}

#[test]
fn each_start_is_told_once_within_half_a_second_of_its_window_end() {
    let (_folder, rules) = rules();
    let job = job_by_rules(Some(&rules), None, &["stream".into()]).unwrap();
    let mut follow = Follow::new(&job, &job.runs[0]).unwrap();
    follow.push(&head(10_000.0)).unwrap();
    // A long arc outlasts what is held; a short one ends inside its window.
    let (bytes, rate) = arcs(&[1.5, 45.0, 0.4, 3.0]);
    let mut told = Vec::new();
    for (k, piece) in bytes.chunks(400).enumerate() {
        let now = (k + 1) as f64 * 100.0 / rate;
        told.extend(
            follow
                .push(piece)
                .unwrap()
                .into_iter()
                .map(|row| (now, row)),
        );
    }
    assert!(follow.finish().unwrap().is_empty());
    assert_eq!(told.len(), 4);
    for (now, row) in &told {
        let lit = row.instants.t_lit_s.unwrap();
        // The window ends with the arc, where that is out for 150 ms.
        let end = row
            .instants
            .t_out_s
            .map_or(lit + 1.0, |out| (lit + 1.0).min(out + 0.15));
        assert!(*now >= end - 1e-3 && *now <= end + 0.5, "{now} {end}");
    }
    // The arc that began before what is held went out inside it.
    let rest: Vec<Option<f64>> = told.iter().map(|(_, row)| row.measures.rest_s()).collect();
    assert_eq!(rest[0], None);
    for rest in &rest[1..] {
        assert!((rest.unwrap() - 2.2).abs() < 0.01, "{rest:?}");
    }
}

#[test]
fn missing_samples_of_a_table_end_what_is_under_way() {
    let job = job_by_rules(None, None, &["stream".into()]).unwrap();
    let mut text = String::from("time_s,current_a,voltage_v\n");
    for k in 0..30_000 {
        let t = f64::from(k) / 10_000.0;
        // An arc from 1 s on; from 1.5 to 2 s rows are missing.
        if (1.5..2.0).contains(&t) {
            continue;
        }
        let (amps, volts) = if t < 1.0 { (0.0, 0.0) } else { (80.0, 13.0) };
        text += &format!("{t:.4},{amps},{volts}\n");
    }
    let rows = followed(&job, text.as_bytes(), 5000);
    assert_eq!(rows.len(), 1);
    assert!((rows[0].instants.t_lit_s.unwrap() - 1.0).abs() < 1e-3);
    assert!(rows[0].flags.iter().any(|flag| flag.name() == "cut_off"));
}

fn tipstrike(args: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

#[test]
fn a_growing_file_is_followed_and_a_start_told_before_the_file_is_done() {
    let (folder, rules) = rules();
    let path = folder.path().join("growing.wav");
    let mut file = std::fs::File::create(&path).unwrap();
    file.write_all(&head(10_000.0)).unwrap();
    let (path, rules) = (path.display().to_string(), rules.display().to_string());
    let mut child = tipstrike(&[
        "measure", "--follow", &path, "--job", &rules, "--jsonl", "-",
    ]);
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let (bytes, _) = arcs(&[3.0, 3.0]);
    for half in bytes.chunks(bytes.len() / 2) {
        file.write_all(half).unwrap();
        let line: serde_json::Value =
            serde_json::from_str(&lines.next().unwrap().unwrap()).unwrap();
        assert_eq!(line["lit"], true);
    }
    child.kill().unwrap();
    child.wait().unwrap();
}

/// A step of a quarter of a second and what is waited behind the window; reading and measuring have the rest of half a second.
#[test]
fn a_start_is_told_within_half_a_second_of_the_end_of_its_window() {
    let (_folder, rules) = rules();
    let job = job_by_rules(Some(&rules), None, &["stream.wav".into()]).unwrap();
    let mut follow = Follow::new(&job, &job.runs[0]).unwrap();
    follow.push(&head(10_000.0)).unwrap();
    let (bytes, rate) = arcs(&[3.0, 2.0]);
    let mut late_s = Vec::new();
    for (piece, number) in bytes.chunks(400).zip(1..) {
        let now_s = f64::from(number) * 100.0 / rate;
        let told = follow.push(piece).unwrap();
        let known_s = |row: &StartRow| row.instants.t_lit_s.unwrap() + job.measuring.observe_s;
        late_s.extend(told.iter().map(|row| now_s - known_s(row)));
    }
    assert_eq!(late_s.len(), 2, "{late_s:?}");
    assert!(late_s.iter().all(|s| (0.0..0.4).contains(s)), "{late_s:?}");
}

#[test]
fn stdin_is_read_to_its_end_and_what_is_no_recording_is_said() {
    let (_folder, rules) = rules();
    let rules = rules.display().to_string();
    let (bytes, _) = arcs(&[1.5]);
    let mut child = tipstrike(&["measure", "-", "--job", &rules, "--csv", "-"]);
    let mut stdin = child.stdin.take().unwrap();
    stdin.write_all(&head(10_000.0)).unwrap();
    stdin.write_all(&bytes).unwrap();
    drop(stdin);
    let done = child.wait_with_output().unwrap();
    assert!(done.status.success());
    assert_eq!(String::from_utf8(done.stdout).unwrap().lines().count(), 2);

    for (input, said) in [("", "nothing came"), ("no numbers\nat all\n", "stdin")] {
        let mut child = tipstrike(&["measure", "-"]);
        child
            .stdin
            .take()
            .unwrap()
            .write_all(input.as_bytes())
            .unwrap();
        let done = child.wait_with_output().unwrap();
        assert_eq!(done.status.code(), Some(2));
        assert!(String::from_utf8_lossy(&done.stderr).contains(said));
    }
}

/// The gap begins, and the recording ends, with a step of a quarter of a second; line by line that is known only when the step is
/// over.
#[test]
fn a_gap_and_an_end_on_a_step_end_what_is_under_way() {
    let job = job_by_rules(None, None, &["stream".into()]).unwrap();
    let mut text = String::from("time_s,current_a,voltage_v\n");
    for k in (0..1500).chain(2000..3500) {
        let t = f64::from(k) / 1000.0;
        // An arc from 1 s and one from 3 s on, neither for the whole of a window.
        let lit = (1.0..1.5).contains(&t) || t >= 3.0;
        let (amps, volts) = if lit { (80.0, 13.0) } else { (0.0, 0.0) };
        text += &format!("{t:.3},{amps},{volts}\n");
    }
    for size in [16, text.len()] {
        let rows = followed(&job, text.as_bytes(), size);
        let lit: Vec<f64> = rows.iter().filter_map(|r| r.instants.t_lit_s).collect();
        assert_eq!(lit.len(), 2, "pieces of {size}: {lit:?}");
        assert!((lit[0] - 1.0).abs() < 2e-3 && (lit[1] - 3.0).abs() < 2e-3);
    }
}
