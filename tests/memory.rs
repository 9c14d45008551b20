//! Memory does not grow with the recording: a WAV file of over 2 GiB with a few arcs, measured by the program itself.
//!
//! The limit is the design's; the file is sparse, so it takes hardly any room. Linux tells the highest resident size.

use std::fs::File;
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const RATE_HZ: u64 = 50_000;
const FRAME_BYTES: u64 = 4;
const DATA_BYTES: u64 = 2_200_000_000;
const HEAD_BYTES: u64 = 44;
const MOST_KIB: u64 = 64 * 1024;
/// Seconds at which the circuit opens.
const ARCS_S: [u64; 5] = [1, 1_000, 5_000, 5_003, 10_990];

/// 70 V for 0.1 s, then 80 A at 12 V for 1.5 s, with the last bits moving; 200 A and 120 V at full scale.
fn arc() -> Vec<u8> {
    let mut bytes = Vec::new();
    for k in 0..RATE_HZ * 16 / 10 {
        let (amps, volts) = if k < RATE_HZ / 10 {
            (0.0, 70.0)
        } else {
            (80.0, 12.0)
        };
        let moving = (k * 7 % 11) as i16;
        for part in [amps / 200.0, volts / 120.0] {
            bytes.extend(((part * 32_768.0) as i16 + moving).to_le_bytes());
        }
    }
    bytes
}

fn write_recording(path: &Path) -> std::io::Result<()> {
    let mut file = File::create(path)?;
    let mut head = Vec::new();
    head.extend(b"RIFF");
    head.extend((DATA_BYTES as u32 + 36).to_le_bytes());
    head.extend(b"WAVEfmt ");
    head.extend(16_u32.to_le_bytes());
    head.extend([1_u16, 2].map(u16::to_le_bytes).concat());
    head.extend(
        [RATE_HZ as u32, (RATE_HZ * FRAME_BYTES) as u32]
            .map(u32::to_le_bytes)
            .concat(),
    );
    head.extend([FRAME_BYTES as u16, 16].map(u16::to_le_bytes).concat());
    head.extend(b"data");
    head.extend((DATA_BYTES as u32).to_le_bytes());
    file.write_all(&head)?;
    file.set_len(HEAD_BYTES + DATA_BYTES)?;
    for second in ARCS_S {
        file.seek(SeekFrom::Start(HEAD_BYTES + second * RATE_HZ * FRAME_BYTES))?;
        file.write_all(&arc())?;
    }
    Ok(())
}

/// Highest resident size so far, KiB; `None` when the process is gone.
fn high_water_kib(process: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[test]
fn a_recording_of_over_two_gibibytes_is_measured_in_64_mebibytes() {
    if !cfg!(target_os = "linux") {
        eprintln!("NOT RUN: the highest resident size is read from /proc, which is Linux's");
        return;
    }
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).unwrap();
    write_recording(&folder.path().join("long.wav")).unwrap();
    let rules = "[logger]\nmains_hz = 50\n\
        current = { channel = 1, amps_at_full_scale = 200.0 }\n\
        voltage = { channel = 2, volts_at_full_scale = 120.0 }\n";
    std::fs::write(folder.path().join("job.toml"), rules).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args([
            "measure",
            "long.wav",
            "--job",
            "job.toml",
            "--csv",
            "starts.csv",
        ])
        .current_dir(folder.path())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut highest = 0;
    let status = loop {
        highest = high_water_kib(child.id()).unwrap_or(0).max(highest);
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    assert!(status.success(), "{status}");
    println!("highest resident size: {highest} KiB");
    let starts = std::fs::read_to_string(folder.path().join("starts.csv")).unwrap();
    assert_eq!(starts.lines().count(), 1 + ARCS_S.len(), "{starts}");
    assert!((1..=MOST_KIB).contains(&highest), "{highest} KiB");
}
