//! Links, pipes, devices, names that steer, places that cannot be written.

use std::os::unix::fs::symlink;

use super::*;

/// A pipe that nobody writes to.
fn pipe(at: &Path) {
    assert!(Command::new("mkfifo").arg(at).status().unwrap().success());
}

#[test]
fn links_and_pipes_in_a_sheet_do_no_harm() {
    let folder = job(RULES, b"file,prep\nx.wav,A\n");
    let outside = tempfile::tempdir().unwrap();
    let place = folder.path().join("x.wav");
    let secret = outside.path().join("secret.wav");
    std::fs::write(&secret, struck()).unwrap();
    let mut faults = Vec::new();
    let mut tried = |tries: &str, code: i32, words: &[&str]| {
        faults.extend(fault(
            tries,
            &tipstrike(folder.path(), &["measure", "."]),
            code,
            words,
        ));
        let _ = std::fs::remove_file(&place);
    };
    symlink(&secret, &place).unwrap();
    tried("a link that leaves", 2, &["link that leaves the folder"]);
    symlink("/dev/zero", &place).unwrap();
    tried("a link to a device", 2, &["link that leaves the folder"]);
    symlink("x.wav", &place).unwrap();
    tried("a link to itself", 3, &["x.wav"]);
    symlink("good.wav", &place).unwrap();
    tried("a link inside", 0, &[]);
    pipe(&place);
    tried("a pipe", 3, &["is a pipe or a device"]);
    all_hold(faults);
}

#[test]
fn odd_things_named_on_the_command_line_do_no_harm() {
    let folder = job(RULES, b"file,prep\ngood.wav,A\n");
    let path = |name: &str| folder.path().join(name);
    pipe(&path("pipe"));
    symlink("loop", path("loop")).unwrap();
    std::fs::create_dir(path("empty")).unwrap();
    let steers = "a\x1b]0;x\x07\n\u{202e}.wav";
    std::fs::write(path(steers), "no recording").unwrap();
    let cases: [(&[&str], i32, &[&str]); 18] = [
        (&["measure", "pipe"], 2, &["is a pipe or a device"]),
        (&["measure", "/dev/zero"], 2, &["is a pipe or a device"]),
        (&["measure", "loop"], 2, &["loop", "cannot read"]),
        (&["measure", "empty"], 2, &["no recordings in this folder"]),
        (&["measure", steers], 3, &["\\u{1b}"]),
        (
            &["measure", "good.wav", "--job", "pipe"],
            2,
            &["is a pipe or a device"],
        ),
        (
            &["measure", "good.wav", "--job", "empty"],
            2,
            &["job.toml", "cannot read"],
        ),
        (
            &["measure", "good.wav", "--job", "/dev/zero"],
            2,
            &["is a pipe or a device"],
        ),
        (&["inspect", "pipe"], 2, &["is a pipe or a device"]),
        (&["inspect", "/dev/zero"], 2, &["is a pipe or a device"]),
        (&["inspect", "empty"], 2, &["is a folder, not a file"]),
        (&["inspect", steers], 2, &["\\u{1b}"]),
        (&["compare", "pipe"], 2, &["is a pipe or a device"]),
        (
            &["screen", ".", "--anew", "--baseline-from", "pipe"],
            2,
            &["is a pipe or a device"],
        ),
        (
            &["plan", "--pilot", "pipe", "--see", "20"],
            2,
            &["is a pipe or a device"],
        ),
        (&["prep", "pipe"], 2, &["is a pipe or a device"]),
        (
            &["report", "pipe", "-o", "p.html"],
            2,
            &["is a pipe or a device"],
        ),
        (&["measure", "."], 0, &["No start was found"]),
    ];
    let tried = |(args, code, words): &(&[&str], i32, &[&str])| {
        fault(
            &args.join(" "),
            &tipstrike(folder.path(), args),
            *code,
            words,
        )
    };
    all_hold(cases.iter().filter_map(tried).collect());
}

/// Root may write everywhere, so a place under a file stands for a folder that is not to be written to.
#[test]
fn what_cannot_be_written_is_said_and_leaves_nothing() {
    let folder = job(RULES, b"file,prep\ngood.wav,A\n");
    std::fs::write(folder.path().join("good.wav"), struck()).unwrap();
    std::fs::create_dir(folder.path().join("taken")).unwrap();
    let refused = |output: &str| -> Vec<String> {
        let cases: [&[&str]; 6] = [
            &["measure", ".", "--csv", output],
            &["measure", ".", "--jsonl", output],
            &["report", ".", "-o", output],
            &["screen", ".", "--anew", "--json", output],
            &["inspect", "good.wav", "--job", ".", "--figure", output],
            &[
                "plan",
                "--preps",
                "A,B",
                "--coupons",
                "1",
                "--starts",
                "4",
                "--sheet",
                output,
            ],
        ];
        let tried = |args: &&[&str]| {
            fault(
                &args.join(" "),
                &tipstrike(folder.path(), args),
                2,
                &["tipstrike: "],
            )
        };
        cases.iter().filter_map(tried).collect()
    };
    let mut faults = refused("good.wav/out.csv");
    faults.extend(refused("none/out.csv"));
    faults.extend(refused("taken"));
    faults.extend(refused("/dev/full"));
    all_hold(faults);
    let left = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|e| e.unwrap().file_name());
    let mut left: Vec<String> = left
        .map(|name| name.to_string_lossy().into_owned())
        .collect();
    left.sort();
    assert_eq!(
        left,
        [".err", ".out", "good.wav", "job.toml", "runs.csv", "taken"]
    );
    assert_eq!(
        std::fs::read_dir(folder.path().join("taken"))
            .unwrap()
            .count(),
        0
    );
}

/// Permissions bind nobody who is root: there the case says so and is not run.
#[test]
fn what_may_not_be_read_is_said() {
    use std::os::unix::fs::PermissionsExt;
    let folder = job(RULES, b"file,prep\ngood.wav,A\n");
    let place = folder.path().join("good.wav");
    std::fs::set_permissions(&place, std::fs::Permissions::from_mode(0o000)).unwrap();
    if std::fs::File::open(&place).is_ok() {
        eprintln!("NOT RUN: this user may read everything");
        return;
    }
    let output = tipstrike(folder.path(), &["measure", "."]);
    all_hold(
        fault("no permission", &output, 3, &["good.wav", "cannot read"])
            .into_iter()
            .collect(),
    );
}
