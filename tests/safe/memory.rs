//! Memory stays small whatever a recording holds, and where there is none the tool says so.

use std::io::Write;
use std::time::Duration;

use super::*;

const MOST_KIB: u64 = 64 * 1024;

/// The highest resident size of a call, KiB, and what it said.
fn high_water(folder: &Path, args: &[&str]) -> (u64, String) {
    let mut child = command(folder, args)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut highest = 0;
    while child.try_wait().unwrap().is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find(|line| line.starts_with("VmHWM:"));
        let size = line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok());
        highest = highest.max(size.unwrap_or(0));
        std::thread::sleep(Duration::from_millis(2));
    }
    let said = child.wait_with_output().unwrap().stderr;
    (highest, String::from_utf8_lossy(&said).into_owned())
}

#[test]
fn a_gap_in_every_row_takes_no_memory() {
    if !cfg!(target_os = "linux") {
        eprintln!("NOT RUN: the highest resident size is read from /proc, which is Linux's");
        return;
    }
    let folder = super::folder();
    let mut file =
        std::io::BufWriter::new(std::fs::File::create(folder.path().join("gaps.csv")).unwrap());
    writeln!(file, "time_s,current_a,voltage_v").unwrap();
    let mut ms = 0;
    for k in 0..3_000_000_u32 {
        ms += if k < 300 { 1 } else { [1, 9][k as usize % 2] };
        writeln!(file, "{}.{:03},80,12", ms / 1000, ms % 1000).unwrap();
    }
    file.into_inner().unwrap();
    let (highest, said) = high_water(folder.path(), &["measure", "gaps.csv"]);
    assert!(said.contains("the times jump"), "{said}");
    assert!((1..=MOST_KIB).contains(&highest), "{highest} KiB");
}

/// A limit of the address space stands for a machine with little memory.
#[test]
fn memory_that_is_not_there_is_said() {
    let folder = job("file,prep\na.wav,A\n");
    let table = printed(folder.path(), &["measure", ".", "--csv", "-"]);
    // Hardly any room on the disk, and 900 MB to be read without a line end.
    let large = std::fs::File::create(folder.path().join("large.csv")).unwrap();
    (&large).write_all(table.as_bytes()).unwrap();
    large.set_len(900_000_000).unwrap();
    // Few bytes, and rows that take more than there is.
    let rows = (1..=2_000_000).map(|start| format!("a.wav,1,A,{start}\n"));
    let rows = "recording,run,prep,start\n".to_owned() + &rows.collect::<String>();
    std::fs::write(folder.path().join("rows.csv"), rows).unwrap();
    let script = "ulimit -c 0; ulimit -v 600000; exec \"$0\" \"$@\"";
    for (name, why) in [
        ("large.csv", "has a row of more than 16 MiB"),
        ("rows.csv", "there is not enough memory to hold it"),
    ] {
        let output = Command::new("sh")
            .args([
                "-c",
                script,
                env!("CARGO_BIN_EXE_tipstrike"),
                "screen",
                name,
            ])
            .current_dir(folder.path())
            .env("XDG_CACHE_HOME", cache_of(folder.path()))
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{name}: {said}");
        assert!(said.contains(why), "{name}: {said}");
    }
}
