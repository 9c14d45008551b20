//! Recordings.

use super::*;

/// A WAV file whose chunks lie about their lengths, or go on and on.
fn chunks(each: &[u8], count: usize) -> Vec<u8> {
    [b"RIFF\xff\xff\xff\xffWAVE", &each.repeat(count)[..]].concat()
}

fn floats(values: &[f32]) -> Vec<u8> {
    let frames = 2000 / values.len();
    let data: Vec<u8> = values
        .iter()
        .flat_map(|v| [v.to_le_bytes(), 0_f32.to_le_bytes()].concat())
        .collect();
    wav(3, 2, 1000, 32, &data.repeat(frames))
}

fn packed(text: &[u8], times: usize) -> Vec<u8> {
    use std::io::Write;
    let mut to = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    (0..times).for_each(|_| to.write_all(text).unwrap());
    to.finish().unwrap()
}

fn rows(step: &str, value: &str) -> Vec<u8> {
    let row = |k: usize| format!("{k}{step},{value},{value}\n");
    ("time_s,current_a,voltage_v\n".to_owned() + &(0..400).map(row).collect::<String>())
        .into_bytes()
}

/// What it tries, the file's name, its bytes, the exit code, words that must be said.
type Recorded<'a> = (&'a str, &'a str, Vec<u8>, i32, &'a [&'a str]);

#[test]
fn heads_made_to_attack_do_no_harm() {
    let head = |bytes: Vec<u8>| bytes[..44].to_vec();
    let promised = [
        &wav(1, 2, 1000, 16, &[])[..40],
        &0xffff_fff0_u32.to_le_bytes(),
    ]
    .concat();
    let cases: Vec<Recorded> = vec![
        (
            "65535 channels",
            "a.wav",
            wav(1, 65_535, 1000, 16, &[0; 64]),
            3,
            &["65535 channels"],
        ),
        (
            "no channel",
            "a.wav",
            wav(1, 0, 1000, 16, &[0; 64]),
            3,
            &["0 channels"],
        ),
        (
            "a rate of 0",
            "a.wav",
            wav(1, 2, 0, 16, &[0; 64]),
            3,
            &["sample rate is 0"],
        ),
        (
            "a rate of 4 GHz",
            "a.wav",
            wav(1, 2, u32::MAX, 16, &[0; 64]),
            3,
            &["is not the rate of a logger"],
        ),
        (
            "a rate of 1 Hz",
            "a.wav",
            wav(1, 2, 1, 16, &[0, 64, 0, 64, 0, 0, 0, 0]),
            0,
            &[],
        ),
        (
            "samples of 65535 bits",
            "a.wav",
            wav(1, 2, 1000, u16::MAX, &[0; 64]),
            3,
            &["a.wav"],
        ),
        (
            "4 GB promised",
            "a.wav",
            promised,
            3,
            &["no complete frame"],
        ),
        (
            "one frame",
            "a.wav",
            wav(1, 2, 1000, 16, &[0, 64, 0, 64]),
            0,
            &[],
        ),
        (
            "a head alone",
            "a.wav",
            head(wav(1, 2, 1000, 16, &[])),
            3,
            &["no complete frame"],
        ),
    ];
    recordings_hold(&cases);
}

#[test]
fn samples_made_to_attack_do_no_harm() {
    let cases: Vec<Recorded> = vec![
        (
            "samples that are no numbers",
            "a.wav",
            floats(&[0.0, f32::NAN]),
            3,
            &["a.wav"],
        ),
        (
            "infinite samples",
            "a.wav",
            floats(&[0.0, f32::NEG_INFINITY]),
            3,
            &["a.wav"],
        ),
        (
            "samples at the end of f32",
            "a.wav",
            floats(&[0.0, f32::MAX]),
            3,
            &["past every welding source"],
        ),
        (
            "samples under the smallest",
            "a.wav",
            floats(&[0.0, f32::from_bits(1)]),
            0,
            &[],
        ),
    ];
    recordings_hold(&cases);
}

#[test]
fn files_without_end_do_no_harm() {
    let wide = format!(
        "time_s{}\n{}",
        ",x".repeat(100_000),
        format!("1{}\n", ",2".repeat(100_000)).repeat(5)
    );
    let cases: Vec<Recorded> = vec![
        (
            "chunks without end",
            "a.wav",
            chunks(b"JUNK\0\0\0\0", 2_000_000),
            3,
            &["first 1000 chunks"],
        ),
        (
            "a chunk longer than all",
            "a.wav",
            chunks(b"JUNK\xfe\xff\xff\xff", 100),
            3,
            &["no data chunk"],
        ),
        (
            "a packed zero gigabyte",
            "a.csv.gz",
            packed(&[b'0'; 1 << 20], 1000),
            3,
            &["not text"],
        ),
        (
            "packed blank lines",
            "a.csv.gz",
            packed(&[b'\n'; 1 << 20], 100),
            3,
            &["nor a table with rows of numbers"],
        ),
        (
            "half of something packed",
            "a.csv.gz",
            packed(&rows("e-3", "1"), 1)[..30].to_vec(),
            3,
            &["a.csv.gz"],
        ),
        (
            "a line of 50 MB",
            "a.csv",
            vec![b'1'; 50 << 20],
            3,
            &["not text"],
        ),
        ("200000 columns", "a.csv", wide.into_bytes(), 3, &["a.csv"]),
        (
            "quotes without end",
            "a.csv",
            b"\"".repeat(1 << 19),
            3,
            &["a.csv"],
        ),
        ("an empty file", "a.csv", Vec::new(), 3, &["is empty"]),
        (
            "a byte-order mark alone",
            "a.csv",
            b"\xef\xbb\xbf".to_vec(),
            3,
            &["nor a table with rows of numbers"],
        ),
    ];
    recordings_hold(&cases);
}

#[test]
fn tables_made_to_attack_do_no_harm() {
    let cases: Vec<Recorded> = vec![
        (
            "one row",
            "a.csv",
            b"time_s,current_a\n0,1\n".to_vec(),
            3,
            &["do not rise"],
        ),
        (
            "times that stand still",
            "a.csv",
            rows("e-999", "1"),
            3,
            &["do not rise"],
        ),
        (
            "steps under the smallest",
            "a.csv",
            rows("e-320", "1"),
            3,
            &["a.csv"],
        ),
        (
            "steps past the largest",
            "a.csv",
            rows("e305", "1"),
            3,
            &["a.csv"],
        ),
        (
            "values at the end of f64",
            "a.csv",
            rows("e-3", "1.7976931348623157e308"),
            3,
            &["past every welding source"],
        ),
        (
            "values past the end of f64",
            "a.csv",
            rows("e-3", "1e999"),
            3,
            &["a.csv"],
        ),
        (
            "values that are none",
            "a.csv",
            rows("e-3", "nan"),
            3,
            &["a.csv"],
        ),
        (
            "16-bit text cut in a letter",
            "a.csv",
            b"\xff\xfet\0i\0m".to_vec(),
            3,
            &["nor a table with rows of numbers"],
        ),
    ];
    recordings_hold(&cases);
}

fn recordings_hold(cases: &[Recorded]) {
    all_hold(
        cases
            .iter()
            .filter_map(|(tries, name, bytes, code, words)| {
                let folder = job(RULES, b"");
                let is_wav = name.ends_with(".wav");
                std::fs::write(folder.path().join(name), bytes).unwrap();
                let args = ["measure", name, "--job", "job.toml"];
                let args = if is_wav { &args[..] } else { &args[..2] };
                let inspected = tipstrike(folder.path(), &["inspect", name]);
                let code_inspected = inspected.status.code().unwrap_or(-1);
                fault(tries, &tipstrike(folder.path(), args), *code, words)
                    .or_else(|| fault(tries, &inspected, code_inspected.clamp(0, 3), &[]))
            })
            .collect(),
    );
}
