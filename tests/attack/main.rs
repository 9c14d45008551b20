//! Recordings, sheets, job files, tables and paths made to do harm: each ends in time, in words, and does none.

mod files;
mod outputs;
#[cfg(unix)]
mod paths;
mod recordings;
mod sheets;

use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// A case that takes longer has hung.
const LONGEST: Duration = Duration::from_secs(60);

/// Runs the tool where a hang is a fault and not the end of the test.
fn tipstrike(folder: &Path, args: &[&str]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(std::fs::File::create(folder.join(".out")).unwrap())
        .stderr(std::fs::File::create(folder.join(".err")).unwrap())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    let status = loop {
        match child.try_wait().unwrap() {
            Some(status) => break status,
            None if begun.elapsed() > LONGEST => {
                child.kill().unwrap();
                break child.wait().unwrap();
            }
            None => std::thread::sleep(Duration::from_millis(2)),
        }
    };
    let read = |name: &str| std::fs::read(folder.join(name)).unwrap();
    Output {
        status,
        stdout: read(".out"),
        stderr: read(".err"),
    }
}

/// What is wrong with an outcome: the exit code, words that are missing, a panic, something that steers the terminal.
fn fault(tries: &str, output: &Output, code: i32, words: &[&str]) -> Option<String> {
    let said = String::from_utf8_lossy(&output.stderr);
    let shown = format!("{}{said}", String::from_utf8_lossy(&output.stdout));
    let short: String = said.chars().take(600).collect();
    let missing = words.iter().find(|word| !shown.contains(**word));
    let steers = |c: char| c.is_control() && c != '\n' || ('\u{202a}'..='\u{202e}').contains(&c);
    let wrong = match output.status.code() {
        Some(found) if found == code => String::new(),
        found => format!("ended with {found:?}, not {code}. "),
    };
    let wrong = wrong
        + &missing.map_or(String::new(), |word| format!("no \"{word}\". "))
        + if shown.contains("panicked") {
            "panicked. "
        } else {
            ""
        }
        + if shown.contains(steers) {
            "steers the terminal. "
        } else {
            ""
        };
    (!wrong.is_empty()).then(|| format!("{tries}: {wrong}{short}"))
}

/// What it tries, the text, the exit code, words that must be said.
type Try<'a> = (&'a str, String, i32, &'a [&'a str]);

fn all_hold(faults: Vec<String>) {
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

const RULES: &str = "[logger]\n\
    current = { channel = 1, amps_at_full_scale = 300 }\n\
    voltage = { channel = 2, volts_at_full_scale = 120 }\n\
    [prep.A]\n";

/// A job folder with one good, if short, recording in it.
fn job(rules: &str, sheet: &[u8]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("job.toml"), rules).unwrap();
    std::fs::write(folder.path().join("runs.csv"), sheet).unwrap();
    let good = wav(1, 2, 1000, 16, &[0; 4000]);
    std::fs::write(folder.path().join("good.wav"), good).unwrap();
    folder
}

/// A WAV file as its head says.
fn wav(tag: u16, channels: u16, rate: u32, bits: u16, data: &[u8]) -> Vec<u8> {
    let block = channels.wrapping_mul(bits / 8);
    let mut bytes = Vec::from(*b"RIFF");
    bytes.extend((36 + data.len() as u32).to_le_bytes());
    bytes.extend(b"WAVEfmt \x10\0\0\0");
    bytes.extend([tag, channels].map(u16::to_le_bytes).concat());
    bytes.extend(
        [rate, rate.wrapping_mul(block.into())]
            .map(u32::to_le_bytes)
            .concat(),
    );
    bytes.extend([block, bits].map(u16::to_le_bytes).concat());
    bytes.extend(b"data");
    bytes.extend((data.len() as u32).to_le_bytes());
    bytes.extend(data);
    bytes
}

/// Half a second of rest, 0.1 s open, a second of arc, a rest.
fn struck() -> Vec<u8> {
    let frame = |k: usize| {
        let (amps, volts) = match k {
            ..2500 => (0, 0),
            2500..3000 => (0, 19_000),
            3000..9000 => (8700, 3500),
            _ => (0, 0),
        };
        [amps + (k * 7 % 11) as i16, volts + (k * 5 % 7) as i16]
            .map(i16::to_le_bytes)
            .concat()
    };
    wav(
        1,
        2,
        5000,
        16,
        &(0..12_000).flat_map(frame).collect::<Vec<u8>>(),
    )
}
