//! Whatever ends the tool — a kill at any time, a signal, a reader that goes away, a full disk — outputs are whole or not there.
#![cfg(unix)]

use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use rand::RngExt;
use rand::SeedableRng;
use rand::rngs::ChaCha8Rng;

fn tipstrike(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    command
        .args(args)
        .current_dir(folder)
        .env("XDG_CACHE_HOME", folder.join(KEPT))
        .env("SOURCE_DATE_EPOCH", "1700000000")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

fn done(folder: &Path, args: &[&str]) -> Output {
    tipstrike(folder, args).output().unwrap()
}

/// The main job of the samples in a folder of its own.
fn job() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let sheet = std::fs::read_to_string(samples.join("runs.csv")).unwrap();
    let first: Vec<&str> = sheet.lines().take(2).collect();
    std::fs::write(folder.path().join("runs.csv"), first.join("\n")).unwrap();
    for name in ["job.toml", "lid-1-A1.wav"] {
        std::fs::copy(samples.join(name), folder.path().join(name)).unwrap();
    }
    folder
}

/// Where measured starts are kept from one screening to the next.
const KEPT: &str = "kept";

/// Every file in a folder and the folders in it, by its path, what is kept for the next screening aside.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        match path.is_dir() {
            true if path.ends_with(KEPT) => {}
            true => found.extend(files(&path)),
            false => drop(found.insert(path.clone(), std::fs::read(&path).unwrap())),
        }
    }
    found
}

/// What is being written has a name that is never taken for an output or a recording.
fn is_leftover(path: &Path) -> bool {
    path.file_name()
        .unwrap()
        .to_string_lossy()
        .starts_with(".tmp")
}

/// Each file is as before or as a run that was left alone makes it.
fn assert_whole(
    now: &BTreeMap<PathBuf, Vec<u8>>,
    before: &BTreeMap<PathBuf, Vec<u8>>,
    after: &BTreeMap<PathBuf, Vec<u8>>,
) {
    for (path, bytes) in now.iter().filter(|(path, _)| !is_leftover(path)) {
        let known = [before, after]
            .iter()
            .any(|files| files.get(path) == Some(bytes));
        assert!(
            known,
            "{} is neither the old file nor the new one",
            path.display()
        );
    }
    let lost = before.keys().find(|path| !now.contains_key(*path));
    assert!(lost.is_none(), "{lost:?} is gone");
}

const VERBS: [&[&str]; 3] = [
    &["measure", ".", "--csv", "starts.csv", "--figure", "figures"],
    &[
        "screen",
        ".",
        "--csv",
        "starts.csv",
        "--json",
        "screen.json",
    ],
    &["report", ".", "-o", "page.html"],
];
/// Kills of each verb: over a hundred of all.
const KILLS: usize = 35;

/// The tool runs for some time, with nothing kept from before, and gets a signal.
fn ended_after(folder: &Path, args: &[&str], time: Duration, signal: &str) -> Output {
    let _ = std::fs::remove_dir_all(folder.join(KEPT));
    let child = tipstrike(folder, args).spawn().unwrap();
    std::thread::sleep(time);
    let pid = child.id().to_string();
    // A tool that is done already cannot be ended; it is not waited for yet, so the number is still its own.
    let _ = Command::new("kill").args([signal, &pid]).status().unwrap();
    child.wait_with_output().unwrap()
}

/// The files of a run that is left alone, without what it keeps for the next run, and how long it takes.
fn left_alone(args: &[&str]) -> (tempfile::TempDir, BTreeMap<PathBuf, Vec<u8>>, Duration) {
    let folder = job();
    let begun = Instant::now();
    let output = done(folder.path(), args);
    assert!(
        output.status.code().is_some_and(|code| code <= 1),
        "{output:?}"
    );
    let found = files(folder.path());
    (folder, found, begun.elapsed())
}

#[test]
fn a_kill_at_any_time_leaves_whole_outputs() {
    let mut rng = ChaCha8Rng::seed_from_u64(9);
    for args in VERBS {
        let (folder, after, takes) = left_alone(args);
        let mut killed = 0;
        for _ in 0..KILLS {
            // Old outputs that differ from the new ones, so that a mixture would show.
            let mut before = after.clone();
            for (path, bytes) in before
                .iter_mut()
                .filter(|(path, _)| is_output(folder.path(), path))
            {
                *bytes = old(path, bytes);
                std::fs::write(path, &*bytes).unwrap();
            }
            let time = takes.mul_f64(rng.random_range(0.0..1.0));
            let output = ended_after(folder.path(), args, time, "-KILL");
            killed += usize::from(output.status.code().is_none());
            assert_whole(&files(folder.path()), &before, &after);
            clear_leftovers(folder.path());
        }
        assert!(
            // How long a run takes changes with what else the machine does.
            killed * 5 >= KILLS,
            "only {killed} of {KILLS} were killed before they were done"
        );
        // What was left does not stand in the way of the next run.
        done(folder.path(), args);
        assert_whole(&files(folder.path()), &after, &after);
    }
}

fn is_output(folder: &Path, path: &Path) -> bool {
    let name = path
        .strip_prefix(folder)
        .unwrap()
        .to_string_lossy()
        .into_owned();
    ["starts.csv", "screen.json", "page.html"].contains(&name.as_str())
        || name.starts_with("figures")
}

/// An older output of the same form, since nothing else is written over.
fn old(path: &Path, bytes: &[u8]) -> Vec<u8> {
    match path.extension().is_some_and(|e| e == "csv") {
        true => bytes
            .split_inclusive(|b| *b == b'\n')
            .next()
            .unwrap()
            .to_vec(),
        false => [bytes, b"\n"].concat(),
    }
}

fn clear_leftovers(folder: &Path) {
    for path in files(folder).into_keys().filter(|path| is_leftover(path)) {
        std::fs::remove_file(path).unwrap();
    }
}

#[test]
fn a_signal_ends_the_tool_and_leaves_whole_outputs() {
    for signal in ["-INT", "-TERM", "-HUP"] {
        for args in VERBS {
            let (folder, after, takes) = left_alone(args);
            let output = ended_after(folder.path(), args, takes.mul_f64(0.4), signal);
            let said = String::from_utf8_lossy(&output.stderr);
            assert!(!said.contains("panicked"), "{said}");
            assert_whole(&files(folder.path()), &after, &after);
        }
    }
}

/// A table of so many starts that no pipe holds its output.
fn many_starts(folder: &Path) {
    let (_job, files, _) = left_alone(VERBS[0]);
    let table = files
        .iter()
        .find(|(path, _)| path.ends_with("starts.csv"))
        .unwrap()
        .1;
    let text = String::from_utf8(table.clone()).unwrap();
    let (head, rows) = text.split_once('\n').unwrap();
    let row = rows.lines().next().unwrap();
    let recording = |k: usize| format!("{k}{row}\n");
    let many = head.to_owned() + "\n" + &(0..3000).map(recording).collect::<String>();
    std::fs::write(folder.join("many.csv"), many).unwrap();
}

/// Has gone before the tool prints anything.
fn nobody_reads(mut command: Command) -> Output {
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    command.stdout(writer).output().unwrap()
}

/// Reads one byte of what the tool prints, and goes away.
fn read_and_leave(mut command: Command) -> Output {
    let mut child = command.spawn().unwrap();
    let mut stdout = child.stdout.take().unwrap();
    stdout.read_exact(&mut [0]).unwrap();
    drop(stdout);
    child.wait_with_output().unwrap()
}

#[test]
fn a_reader_that_goes_away_is_told_by_the_exit_code_alone() {
    let folder = tempfile::tempdir().unwrap();
    many_starts(folder.path());
    for args in [
        &["measure", "many.csv"][..],
        &["measure", "many.csv", "--csv", "-"],
        &["measure", "many.csv", "--jsonl", "-"],
        &["screen", "many.csv"],
        &["screen", "many.csv", "--json", "-"],
        &["--help"],
        &["measure", "--help"],
    ] {
        let mut outputs = vec![nobody_reads(tipstrike(folder.path(), args))];
        // What is shorter than the buffer of a pipe may be written whole before its reader goes.
        if args[0] == "measure" && args[1] == "many.csv" {
            outputs.push(read_and_leave(tipstrike(folder.path(), args)));
        }
        for output in outputs {
            let said = String::from_utf8_lossy(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
            assert!(
                !said.contains("panicked") && !said.contains("pipe"),
                "{args:?}: {said}"
            );
        }
    }
}

#[test]
fn messages_that_nobody_reads_are_no_error() {
    let folder = job();
    for (args, code) in [
        (&["measure", "."][..], 0),
        (&["measure", "gone.wav"], 2),
        (&["inspect", "gone.wav"], 2),
    ] {
        let mut child = tipstrike(folder.path(), args).spawn().unwrap();
        drop(child.stderr.take());
        assert_eq!(
            child.wait_with_output().unwrap().status.code(),
            Some(code),
            "{args:?}"
        );
    }
}

#[test]
fn a_full_device_under_stdout_is_said() {
    let Ok(full) = std::fs::File::options().write(true).open("/dev/full") else {
        eprintln!("NOT RUN: there is no /dev/full");
        return;
    };
    let folder = job();
    for args in [
        &["measure", "."][..],
        &["measure", ".", "--csv", "-"],
        &["plan", "--rough-under", "2"],
        &["--help"],
        &["--version"],
        &["measure", "--help"],
    ] {
        let output = tipstrike(folder.path(), args)
            .stdout(full.try_clone().unwrap())
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(
            said.contains("stdout: cannot write: No space left"),
            "{args:?}: {said}"
        );
    }
}

/// The limit of a file's size stands for a disk that fills up: it takes no rights to set.
#[test]
fn a_disk_that_fills_up_is_said_and_leaves_the_old_output() {
    for args in VERBS {
        let (folder, after, _) = left_alone(args);
        let limited = "trap '' XFSZ; ulimit -f 1; exec \"$0\" \"$@\"";
        let output = Command::new("sh")
            .args(["-c", limited, env!("CARGO_BIN_EXE_tipstrike")])
            .args(args)
            .current_dir(folder.path())
            .env("XDG_CACHE_HOME", folder.path().join(KEPT))
            .env("SOURCE_DATE_EPOCH", "1700000000")
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
        assert!(
            said.contains("cannot write: File too large"),
            "{args:?}: {said}"
        );
        assert_eq!(files(folder.path()), after, "{args:?}");
    }
}

/// On stdout rows go out as they come, in a file all at once; the column of a run without a start stands in both.
#[test]
fn a_table_is_the_same_on_stdout_and_in_a_file() {
    let folder = job();
    let rest = hound::WavSpec {
        channels: 2,
        sample_rate: 10_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut idle = hound::WavWriter::create(folder.path().join("idle.wav"), rest).unwrap();
    (0..20_000).for_each(|k| idle.write_sample::<i16>(k % 3).unwrap());
    idle.finalize().unwrap();
    let sheet = std::fs::read_to_string(folder.path().join("runs.csv")).unwrap();
    let (head, run) = sheet.split_once('\n').unwrap();
    let blank = ",".repeat(head.matches(',').count() - 1);
    let sheet = format!("{head},jig\n{},\nidle.wav,A{blank},J\n", run.trim());
    std::fs::write(folder.path().join("runs.csv"), sheet).unwrap();
    for (option, name) in [("--csv", "starts.csv"), ("--jsonl", "starts.jsonl")] {
        let out = done(folder.path(), &["measure", ".", option, "-"]).stdout;
        done(folder.path(), &["measure", ".", option, name]);
        let file = std::fs::read(folder.path().join(name)).unwrap();
        assert!(!out.is_empty() && out == file, "{name}");
    }
    let table = std::fs::read_to_string(folder.path().join("starts.csv")).unwrap();
    let head = table.lines().next().unwrap();
    assert!(head.split(',').any(|column| column == "jig"), "{head}");
}

/// Numbers have a point and the same digits wherever the tool runs.
#[test]
fn numbers_do_not_depend_on_the_locale() {
    let folder = job();
    let printed = |locale: &str| {
        let mut command = tipstrike(folder.path(), &["measure", ".", "--csv", "-"]);
        let output = command
            .env("LC_ALL", locale)
            .env("LANG", locale)
            .output()
            .unwrap();
        assert!(output.status.success());
        output.stdout
    };
    let plain = printed("C");
    for locale in [
        "de_DE.UTF-8",
        "ar_EG.UTF-8",
        "tr_TR.UTF-8",
        "no such locale",
    ] {
        assert_eq!(printed(locale), plain, "{locale}");
    }
}
