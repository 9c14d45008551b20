//! Big recordings for the benches: one stretch, made once and repeated. Invented, and only as real as reading them needs.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

/// The job file beside the recordings.
pub const RULES: &str = "job.toml";
/// Frames a second.
pub const RATE_HZ: u32 = 50_000;
/// Frames a second of many small recordings, so that tens of thousands of them stay in the page cache.
const SMALL_RATE_HZ: u32 = 10_000;
const CHANNELS: u16 = 2;
const AMPS: f64 = 200.0;
const VOLTS: f64 = 120.0;

#[derive(Clone, Copy)]
pub enum Coding {
    I16,
    I24,
    F32,
}

impl Coding {
    fn bytes(self) -> u16 {
        match self {
            Coding::I16 => 2,
            Coding::I24 => 3,
            Coding::F32 => 4,
        }
    }

    fn put(self, part: f64, to: &mut Vec<u8>) {
        match self {
            Coding::I16 => to.extend(((part * 32_768.0) as i16).to_le_bytes()),
            Coding::I24 => to.extend(&((part * 8_388_608.0) as i32).to_le_bytes()[..3]),
            Coding::F32 => to.extend((part as f32).to_le_bytes()),
        }
    }
}

#[derive(Clone, Copy)]
pub enum Pattern {
    /// An arc of 6 s every 20 s.
    EveryTwentySeconds,
    /// An arc of 4 s, out for 0.3 s, the next.
    ArcAfterArc,
    /// An arc of 1.1 s, out for 0.3 s, the next: as many windows to measure as there can be.
    StartAfterStart,
    /// One start in 2 s.
    OneStart,
}

impl Pattern {
    /// Opens, lights, goes out, ends, s.
    fn instants(self) -> [f64; 4] {
        match self {
            Pattern::EveryTwentySeconds => [8.0, 8.2, 14.2, 20.0],
            Pattern::ArcAfterArc => [0.1, 0.15, 4.15, 4.35],
            Pattern::StartAfterStart => [0.1, 0.15, 1.25, 1.45],
            Pattern::OneStart => [0.3, 0.35, 1.7, 2.0],
        }
    }

    /// Amps and volts of one period.
    fn samples(self) -> impl Iterator<Item = (f64, f64)> {
        let mut noise = noise();
        self.clean(RATE_HZ)
            .map(move |(amps, volts)| (amps + 0.05 * noise(), volts + 0.02 * noise()))
    }

    /// Amps and volts of one period, without noise.
    fn clean(self, rate_hz: u32) -> impl Iterator<Item = (f64, f64)> {
        let [open, lit, out, end] = self.instants();
        (0..(end * f64::from(rate_hz)) as usize).map(move |k| {
            let t = k as f64 / f64::from(rate_hz);
            if (lit..out).contains(&t) {
                let a = 80.0 * (1.0 - (-(t - lit) / 3e-3).exp());
                (
                    a,
                    10.0 + 0.04 * a + 0.3 * (std::f64::consts::TAU * 7.0 * t).sin(),
                )
            } else if (open..lit).contains(&t) {
                (0.0, 78.0)
            } else {
                (0.0, 0.0)
            }
        })
    }
}

/// About normal, seeded.
fn noise() -> impl FnMut() -> f64 {
    let mut state = 1_u64;
    move || {
        (0..4)
            .map(|_| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                (state >> 40) as f64 / f64::from(1 << 24) - 0.5
            })
            .sum::<f64>()
            * 1.7
    }
}

/// Writes a WAV file of about so many bytes, RF64 where RIFF is too small, and the job file beside it.
pub fn wav(path: &Path, bytes: u64, coding: Coding, pattern: Pattern) {
    let mut period = Vec::new();
    for (amps, volts) in pattern.samples() {
        coding.put(amps / AMPS, &mut period);
        coding.put(volts / VOLTS, &mut period);
    }
    let periods = (bytes / period.len() as u64).max(1);
    let mut out = BufWriter::new(File::create(path).expect("a place for big files"));
    out.write_all(&head(coding, RATE_HZ, periods * period.len() as u64))
        .expect("room");
    for _ in 0..periods {
        out.write_all(&period).expect("room");
    }
    done(out);
    rules(path);
}

/// RIFF, and RF64 (EBU Tech 3306) where the file is too long for that.
fn head(coding: Coding, rate_hz: u32, data: u64) -> Vec<u8> {
    let long = data > u64::from(u32::MAX) - 100;
    let sizes = [data + 36, data].map(|s| if long { u32::MAX } else { s as u32 });
    let mut head = Vec::new();
    head.extend(if long { b"RF64" } else { b"RIFF" });
    head.extend(sizes[0].to_le_bytes());
    head.extend(b"WAVE");
    if long {
        head.extend(b"ds64");
        head.extend(28_u32.to_le_bytes());
        head.extend((data + 72).to_le_bytes());
        head.extend(data.to_le_bytes());
        head.extend([0; 12]);
    }
    head.extend(b"fmt ");
    head.extend(16_u32.to_le_bytes());
    head.extend(
        (if matches!(coding, Coding::F32) {
            3_u16
        } else {
            1
        })
        .to_le_bytes(),
    );
    head.extend(CHANNELS.to_le_bytes());
    head.extend(rate_hz.to_le_bytes());
    let frame = CHANNELS * coding.bytes();
    head.extend((rate_hz * u32::from(frame)).to_le_bytes());
    head.extend(frame.to_le_bytes());
    head.extend((8 * coding.bytes()).to_le_bytes());
    head.extend(b"data");
    head.extend(sizes[1].to_le_bytes());
    head
}

fn rules(beside: &Path) {
    let text = format!(
        "[logger]\ncurrent = {{ channel = 1, amps_at_full_scale = {AMPS} }}\nvoltage = {{ channel = 2, volts_at_full_scale = {VOLTS} }}\n"
    );
    std::fs::write(beside.with_file_name(RULES), text).expect("room");
}

/// Writes a table of about so many bytes; its columns say their units, so the rules beside it are about the mains only.
pub fn csv(path: &Path, bytes: u64) {
    std::fs::write(path.with_file_name(RULES), "[logger]\nmains_hz = 50\n").expect("room");
    let mut out = BufWriter::new(File::create(path).expect("a place for big files"));
    writeln!(out, "time_s,current_a,voltage_v").expect("room");
    let (mut written, mut row) = (0, 0_u64);
    while written < bytes {
        for (amps, volts) in Pattern::EveryTwentySeconds.samples() {
            let line = format!(
                "{:.5},{amps:.3},{volts:.3}\n",
                row as f64 / f64::from(RATE_HZ)
            );
            out.write_all(line.as_bytes()).expect("room");
            written += line.len() as u64;
            row += 1;
            if written >= bytes {
                break;
            }
        }
    }
    done(out);
}

/// Written out in full, so that nothing is still on its way to the disk while something is timed.
fn done(out: BufWriter<File>) {
    out.into_inner().expect("room").sync_all().expect("room");
}

/// A folder of recordings of 2 s, a start in each. No two hold the same: the noise is shifted from one to the next.
pub fn folder(path: &Path, count: usize) {
    std::fs::create_dir(path).expect("a place for them");
    let clean: Vec<(f64, f64)> = Pattern::OneStart.clean(SMALL_RATE_HZ).collect();
    let mut next = noise();
    let noise: Vec<f64> = (0..2 * clean.len() + count).map(|_| next()).collect();
    let bytes = clean.len() * usize::from(CHANNELS * Coding::I16.bytes());
    let head = head(Coding::I16, SMALL_RATE_HZ, bytes as u64);
    for k in 0..count {
        let mut recording = head.clone();
        for ((amps, volts), noise) in clean.iter().zip(noise[k..].chunks(2)) {
            Coding::I16.put((amps + 0.05 * noise[0]) / AMPS, &mut recording);
            Coding::I16.put((volts + 0.02 * noise[1]) / VOLTS, &mut recording);
        }
        std::fs::write(path.join(format!("part-{k:05}.wav")), recording).expect("room");
    }
    rules(path);
}
