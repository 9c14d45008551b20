//! Inputs of a night: dates with their source, one sheet for a month, the same bytes twice, a kill at any time.

use std::time::Duration;

use super::*;

/// The alarms of a screening, or whatever else it says, as JSON.
fn screened(folder: &Path, args: &[&str]) -> serde_json::Value {
    let args = [&["screen"], args, &["--json", "-"]].concat();
    let output = tipstrike(folder, &args);
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)))
}

/// A recording of the samples with a chunk behind its samples.
fn with_chunk(path: &Path, id: &[u8; 4], body: &[u8]) {
    let mut bytes = std::fs::read(sample(B)).unwrap();
    bytes.resize(bytes.len() + bytes.len() % 2, 0);
    bytes.extend([id, &(body.len() as u32).to_le_bytes()[..], body].concat());
    let size = (bytes.len() - 8) as u32;
    bytes[4..8].copy_from_slice(&size.to_le_bytes());
    std::fs::write(path, bytes).unwrap();
}

#[test]
fn a_date_comes_from_the_sheet_the_file_or_its_time_and_the_source_is_said() {
    let folder = job("file,prep,date\nb.wav,B,2026-03-10\n");
    let path = |name: &str| folder.path().join(name);
    let dated = |args: &[&str]| {
        let alarm = screened(folder.path(), args)["alarms"][0].clone();
        [&alarm["date"], &alarm["date_from"]].map(|v| v.as_str().unwrap_or_default().to_owned())
    };
    assert_eq!(dated(&["."]), ["2026-03-10", "sheet"]);
    let mut bext = vec![0; 602];
    bext[320..338].copy_from_slice(b"2026-03-1122:05:01");
    with_chunk(&path("c.wav"), b"bext", &bext);
    let loose = ["c.wav", "--job", "job.toml", "--prep", "B"];
    assert_eq!(dated(&loose), ["2026-03-11T22:05:01", "bext"]);
    with_chunk(
        &path("c.wav"),
        b"LIST",
        b"INFOICRD\x0b\0\0\x002026-03-12\0\0",
    );
    assert_eq!(dated(&loose), ["2026-03-12", "ICRD"]);
    std::fs::copy(sample(B), path("c.wav")).unwrap();
    let file = std::fs::File::options()
        .append(true)
        .open(path("c.wav"))
        .unwrap();
    file.set_modified(std::time::UNIX_EPOCH + Duration::from_secs(1_709_251_198))
        .unwrap();
    assert_eq!(dated(&loose), ["2024-02-29T23:59:58Z", "file time"]);
}

/// Two cells of two nights, one sheet above them.
fn month() -> tempfile::TempDir {
    let folder = job("file,prep,cell\nnight*/cell03/*.wav,A,03\nnight*/cell04/*.wav,B,04\n");
    for (from, to) in [
        ("a.wav", "night1/cell03/run.wav"),
        ("b.wav", "night1/cell04/run.wav"),
        ("b.wav", "night1/cell03/copy.wav"),
    ] {
        let to = folder.path().join(to);
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::copy(folder.path().join(from), to).unwrap();
    }
    folder
}

#[test]
fn one_sheet_above_the_folders_serves_every_night() {
    let folder = month();
    let rows = |args: &[&str]| -> Vec<[String; 3]> {
        let args = [&["measure"], args, &["--csv", "-"]].concat();
        let table = printed(folder.path(), &args);
        let head: Vec<&str> = table.lines().next().unwrap().split(',').collect();
        let at = |name: &str| head.iter().position(|h| *h == name).unwrap();
        let cells = |line: &str| {
            let cells: Vec<&str> = line.split(',').collect();
            ["recording", "prep", "cell"].map(|name| cells[at(name)].to_owned())
        };
        let mut rows: Vec<[String; 3]> = table.lines().skip(1).map(cells).collect();
        rows.dedup();
        rows
    };
    let row = |name: &str, prep: &str, cell: &str| [name, prep, cell].map(str::to_owned);
    let expected = [
        row("night1/cell03/copy.wav", "A", "03"),
        row("night1/cell03/run.wav", "A", "03"),
    ];
    // The copy of cell 04's recording lies in cell 03's folder: it counts once, where it is found first.
    assert_eq!(rows(&["."]), expected);
    std::fs::remove_file(folder.path().join("night1/cell03/copy.wav")).unwrap();
    let expected = [
        row("night1/cell03/run.wav", "A", "03"),
        row("night1/cell04/run.wav", "B", "04"),
    ];
    assert_eq!(rows(&["."]), expected);
    // One night by its folder, the sheet a folder above.
    let loose = screened(
        folder.path(),
        &["night1", "--job", "job.toml", "--by", "cell"],
    );
    let groups = loose["groups"].as_array().unwrap();
    let mut ids: Vec<&str> = groups.iter().map(|g| g["id"].as_str().unwrap()).collect();
    ids.sort_unstable();
    assert_eq!(ids, ["03", "04"]);
    let prep = |text: &str| printed(folder.path(), &["prep", "."]).contains(text);
    assert!(prep("A") && prep("B"));
}

#[test]
fn a_pattern_that_nothing_fits_yet_is_said() {
    let folder = job("file,prep\na.wav,A\ncell09/*.wav,B\n");
    let said = said(folder.path(), &["measure", "."], 0);
    assert!(
        said.contains("No recording fits cell09/*.wav of the sheet."),
        "{said}"
    );
}

#[test]
fn a_file_that_is_still_written_is_left_for_the_next_night_under_a_pattern_too() {
    let folder = month();
    let path = folder.path().join("night1/cell03/now.wav");
    let bytes = std::fs::read(sample(A)).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let found = screened(folder.path(), &["."]);
    assert_eq!(
        found["still_written"],
        serde_json::json!(["night1/cell03/now.wav"])
    );
    assert_eq!(found["copies"][0]["recording"], "night1/cell04/run.wav");
}

#[test]
fn a_night_screened_twice_gives_the_same_bytes_and_a_kill_stands_in_no_way() {
    let folder = job("file,prep\na.wav,A\nb.wav,B\n");
    let args = [
        "screen",
        "a.wav",
        "b.wav",
        "--job",
        "job.toml",
        "--append",
        "nights.csv",
        "--json",
        "-",
    ];
    let first = tipstrike(folder.path(), &args);
    let nights = std::fs::read(folder.path().join("nights.csv")).unwrap();
    assert_eq!(tipstrike(folder.path(), &args), first);
    assert_eq!(
        std::fs::read(folder.path().join("nights.csv")).unwrap(),
        nights
    );
    for ms in [0, 2, 5, 10, 20, 40, 80] {
        let _ = std::fs::remove_dir_all(cache_of(folder.path()));
        std::fs::remove_file(folder.path().join("nights.csv")).unwrap();
        let mut child = command(folder.path(), &args)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(ms));
        let _ = child.kill();
        child.wait().unwrap();
        assert_eq!(
            tipstrike(folder.path(), &args).stdout,
            first.stdout,
            "{ms} ms"
        );
        assert_eq!(
            std::fs::read(folder.path().join("nights.csv")).unwrap(),
            nights,
            "{ms} ms"
        );
    }
}

#[test]
fn quiet_is_the_verdict_line_and_nothing_on_stderr() {
    let folder = job("file,prep\na.wav,A\nb.wav,B\n");
    let output = tipstrike(folder.path(), &["screen", ".", "--quiet"]);
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.starts_with("NOT PASSED: "), "{text}");
    assert!(
        output.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
}
