//! Faults put in on purpose while each verb writes: what is found afterwards is the old content or the new one, and nothing else.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

use super::*;

/// Calls that write, and what each writes.
const WRITERS: [(&[&str], &[&str]); 9] = [
    (&["prep", ".", "--json", "prep.json"], &["prep.json"]),
    (
        &[
            "inspect",
            "t.csv",
            "--json",
            "seen.json",
            "--figure",
            "t.svg",
        ],
        &["seen.json", "t.svg"],
    ),
    (
        &[
            "measure",
            "starts.csv",
            "--csv",
            "new.csv",
            "--jsonl",
            "new.jsonl",
        ],
        &["new.csv", "new.jsonl"],
    ),
    (
        &[
            "measure",
            "t.csv",
            "--csv",
            "t-starts.csv",
            "--figure",
            "figures",
        ],
        &["t-starts.csv"],
    ),
    (
        &["compare", "starts.csv", "--json", "answer.json"],
        &["answer.json"],
    ),
    (
        &[
            "screen",
            "starts.csv",
            "--json",
            "screen.json",
            "--csv",
            "lines.csv",
        ],
        &["screen.json", "lines.csv"],
    ),
    (
        &["screen", "starts.csv", "--append", "nights.csv"],
        &["nights.csv"],
    ),
    (&["report", "starts.csv", "-o", "page.html"], &["page.html"]),
    (&["manual", "help"], &[]),
];
/// Tries of each call, over a hundred in all; `TIPSTRIKE_LONG=1` makes over 300.
fn tries_of_each() -> usize {
    match crate::long_form::long() {
        true => 36,
        false => 12,
    }
}

/// What is done to a call.
#[derive(Debug, Clone, Copy)]
enum Fault {
    /// Files may not grow past so many blocks: writing on fails, in the middle of a write too.
    Full(u32),
    /// The same, where the system ends the program for it.
    Ended(u32),
    /// Killed after a part of its usual time.
    Killed(f64),
}

fn fault(rng: &mut ChaCha8Rng, k: usize) -> Fault {
    let blocks = rng.random_range(0..12);
    match k % 3 {
        0 => Fault::Full(blocks),
        1 => Fault::Ended(blocks),
        _ => Fault::Killed(rng.random_range(0.0..1.1)),
    }
}

/// Runs the tool under a limit of the size of files.
fn limited(folder: &Path, args: &[&str], blocks: u32, trap: &str) -> Output {
    let script = format!("{trap} ulimit -c 0; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_tipstrike")])
        .args(args)
        .current_dir(folder)
        .env("XDG_CACHE_HOME", cache_of(folder))
        .env("SOURCE_DATE_EPOCH", "1700000000")
        .stdin(Stdio::null())
        .output()
        .unwrap()
}

fn suffers(folder: &Path, args: &[&str], fault: Fault, usual: Duration) {
    match fault {
        Fault::Full(blocks) => {
            let output = limited(folder, args, blocks, "trap '' XFSZ;");
            let said = String::from_utf8_lossy(&output.stderr);
            assert!(
                output.status.code().is_some_and(|code| code <= 2),
                "{args:?}: {said}"
            );
            assert!(
                !said.contains("panicked") && !said.contains(".tmp"),
                "{args:?}: {said}"
            );
        }
        Fault::Ended(blocks) => drop(limited(folder, args, blocks, "")),
        Fault::Killed(part) => {
            let mut child = command(folder, args)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .unwrap();
            std::thread::sleep(usual.mul_f64(part));
            let _ = child.kill();
            child.wait().unwrap();
        }
    }
}

/// Every file in a folder and the folders in it, by its path, the cache aside.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        match path.is_dir() {
            true if path == cache_of(folder) => {}
            true => found.extend(files(&path)),
            false => drop(found.insert(path.clone(), std::fs::read(&path).unwrap())),
        }
    }
    found
}

/// A table with one short arc in it.
fn short_table() -> String {
    let row = |k: u32| {
        let amps = if (800..1600).contains(&k) {
            80 + k % 2
        } else {
            0
        };
        format!("{:.3},{amps},{}\n", f64::from(k) / 1e3, amps / 7)
    };
    format!(
        "time_s,current_a,voltage_v\n{}",
        (0..2000).map(row).collect::<String>()
    )
}

fn bench() -> tempfile::TempDir {
    let folder = job("file,prep\na.wav,A\nb.wav,B\n");
    let path = |name: &str| folder.path().join(name);
    std::fs::write(path("t.csv"), short_table()).unwrap();
    printed(folder.path(), &["measure", ".", "--csv", "starts.csv"]);
    let table = std::fs::read_to_string(path("starts.csv")).unwrap();
    std::fs::write(
        path("nights.csv"),
        table
            .replace("a.wav", "yesterday.wav")
            .replace("b.wav", "before.wav"),
    )
    .unwrap();
    folder
}

/// An older output of the same form.
fn older(name: &Path, new: &[u8]) -> Vec<u8> {
    match name.extension().is_some_and(|e| e == "csv" || e == "jsonl") {
        true => new
            .split_inclusive(|b| *b == b'\n')
            .take(1)
            .flatten()
            .copied()
            .collect(),
        false => [new, b"\n"].concat(),
    }
}

/// Whether this is a file on its way to its name.
fn in_passing(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default();
    name.to_string_lossy().starts_with(".tmp")
}

/// Each file is as before or as a run that was left alone makes it.
fn assert_old_or_new(
    now: &BTreeMap<PathBuf, Vec<u8>>,
    old: &BTreeMap<PathBuf, Vec<u8>>,
    new: &BTreeMap<PathBuf, Vec<u8>>,
    case: &str,
) {
    // A new file that takes an old one's place has a name of its own for a moment; a kill just then leaves it.
    let killed = case.contains("Killed");
    for (path, bytes) in now.iter().filter(|(path, _)| !(killed && in_passing(path))) {
        let known = [old, new]
            .iter()
            .any(|files| files.get(path) == Some(bytes));
        assert!(known, "{case}: {} is neither old nor new", path.display());
    }
    let gone = old.keys().find(|path| !now.contains_key(*path));
    assert!(gone.is_none(), "{case}: {gone:?} is gone");
}

#[test]
fn faults_while_writing_leave_old_or_new_content_and_nothing_else() {
    let mut rng = ChaCha8Rng::seed_from_u64(17);
    let mut tries = 0;
    for (args, outputs) in WRITERS {
        let folder = bench();
        let nights = std::fs::read(folder.path().join("nights.csv")).unwrap();
        let begun = Instant::now();
        let alone = tipstrike(folder.path(), args);
        assert!(
            alone.status.code().is_some_and(|code| code <= 1),
            "{args:?}: {alone:?}"
        );
        let usual = begun.elapsed();
        let new = files(folder.path());
        let mut old = new.clone();
        for name in outputs {
            let path = folder.path().join(name);
            let bytes = match *name {
                "nights.csv" => nights.clone(),
                _ => older(&path, &new[&path]),
            };
            old.insert(path, bytes);
        }
        for k in 0..tries_of_each() {
            let now = files(folder.path());
            for (path, bytes) in &old {
                if now.get(path) != Some(bytes) {
                    std::fs::write(path, bytes).unwrap();
                }
            }
            let fault = fault(&mut rng, k);
            suffers(folder.path(), args, fault, usual);
            assert_old_or_new(
                &files(folder.path()),
                &old,
                &new,
                &format!("{args:?}, {fault:?}"),
            );
            if matches!(fault, Fault::Killed(_)) {
                for path in files(folder.path()).keys().filter(|path| in_passing(path)) {
                    std::fs::remove_file(path).unwrap();
                }
            }
            tries += 1;
        }
        // What was left does not stand in the way of the next run.
        let next = tipstrike(folder.path(), args);
        assert_eq!(next.status, alone.status, "{args:?}: {next:?}");
        assert_old_or_new(
            &files(folder.path()),
            &new,
            &new,
            &format!("{args:?}, left alone"),
        );
    }
    // The two that write only what is not there yet.
    for args in [
        &[
            "plan",
            "--preps",
            "A,B",
            "--coupons",
            "1,2",
            "--starts",
            "40",
            "--sheet",
            "next.csv",
        ][..],
        &["demo", "try"],
    ] {
        tries += fresh(args, &mut rng);
    }
    let least = 8 * tries_of_each();
    assert!(tries > least, "{tries}");
}

/// Tries of a call that writes into an empty folder only.
fn fresh(args: &[&str], rng: &mut ChaCha8Rng) -> usize {
    let heavy = args[0] == "demo";
    let all = super::folder();
    let begun = Instant::now();
    printed(all.path(), args);
    let usual = begun.elapsed();
    let whole = files(all.path());
    let count = if heavy { 3 } else { tries_of_each() };
    for k in 0..count {
        let folder = super::folder();
        let fault = fault(rng, k);
        suffers(folder.path(), args, fault, usual);
        for (path, bytes) in files(folder.path()) {
            let name = all.path().join(path.strip_prefix(folder.path()).unwrap());
            assert_eq!(
                whole.get(&name),
                Some(&bytes),
                "{args:?}, {fault:?}: {}",
                path.display()
            );
        }
    }
    count
}
