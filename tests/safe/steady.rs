//! What is read stays the same while it is read, or that is said; files that hold more than one reading are not half read.

use std::io::{BufRead, BufReader, Write};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use super::*;

/// Does this again and again while the tool runs.
fn meanwhile(act: impl Fn() + Sync, run: impl FnOnce() -> Output) -> Output {
    let over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !over.load(Ordering::Relaxed) {
                act();
                std::thread::sleep(Duration::from_millis(1));
            }
        });
        let output = run();
        over.store(true, Ordering::Relaxed);
        output
    })
}

fn append(path: &Path) {
    let mut file = std::fs::File::options().append(true).open(path).unwrap();
    file.write_all(b"x").unwrap();
}

#[test]
fn a_recording_that_changes_while_it_is_read_is_left_out_and_said() {
    let folder = job("file,prep\na.wav,A\nb.wav,B\n");
    let recording = folder.path().join("a.wav");
    let cut = || {
        let file = std::fs::File::options()
            .append(true)
            .open(&recording)
            .unwrap();
        let length = file.metadata().unwrap().len();
        file.set_len(length.saturating_sub(7).max(40_000)).unwrap();
        append(&recording);
    };
    let ways: [&(dyn Fn() + Sync); 2] = [&|| append(&recording), &cut];
    for (k, way) in ways.into_iter().enumerate() {
        let output = meanwhile(way, || {
            tipstrike(folder.path(), &["measure", ".", "--csv", "-"])
        });
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(3), "{k}: {said}");
        assert!(
            said.contains("a.wav: the file changed while it was read"),
            "{k}: {said}"
        );
        let table = String::from_utf8(output.stdout).unwrap();
        assert!(
            !table.contains("\na.wav") && table.contains("\nb.wav"),
            "{k}: {table}"
        );
    }
    let grows = || append(&recording);
    let args = [
        "screen", "a.wav", "b.wav", "--job", "job.toml", "--json", "-",
    ];
    let output = meanwhile(grows, || tipstrike(folder.path(), &args));
    let found: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["still_written"], serde_json::json!(["a.wav"]));
}

#[test]
fn a_wav_file_cut_anywhere_is_read_as_far_as_it_goes_or_refused_in_plain_words() {
    let folder = job("file,prep\na.wav,A\n");
    let whole = std::fs::read(sample(A)).unwrap();
    let path = folder.path().join("a.wav");
    for length in (1..60).chain([1000, whole.len() / 2, whole.len() - 1]) {
        std::fs::write(&path, &whole[..length]).unwrap();
        let output = tipstrike(folder.path(), &["measure", "."]);
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(
            matches!(output.status.code(), Some(0 | 3)),
            "{length}: {said}"
        );
        for jargon in ["failed to fill", "buffer", "unexpected end", "os error"] {
            assert!(!said.contains(jargon), "{length}: {said}");
        }
    }
}

/// A chunk of a WAV file.
fn chunk(id: &[u8; 4], body: &[u8]) -> Vec<u8> {
    [id, &(body.len() as u32).to_le_bytes()[..], body].concat()
}

fn riff(chunks: &[Vec<u8>]) -> Vec<u8> {
    let body = [b"WAVE".to_vec(), chunks.concat()].concat();
    chunk(b"RIFF", &body)
}

/// Format chunk of a sample and its samples in two halves.
fn taken_apart() -> (Vec<u8>, Vec<u8>, Vec<u8>) {
    let whole = std::fs::read(sample(A)).unwrap();
    let data = whole.windows(4).position(|id| id == b"data").unwrap() + 8;
    let samples = &whole[data..];
    let half = samples.len() / 8 * 4;
    (
        whole[20..36].to_vec(),
        samples[..half].to_vec(),
        samples[half..].to_vec(),
    )
}

#[test]
fn samples_in_several_chunks_and_two_formats_are_refused_and_never_half_read() {
    let (format, first, second) = taken_apart();
    let fmt = chunk(b"fmt ", &format);
    let mut faster = format.clone();
    faster[4] ^= 1;
    let note = chunk(b"LIST", b"INFOISFT\x06\0\0\0logger");
    let wavl = [
        &b"wavl"[..],
        &chunk(b"data", &first),
        &chunk(b"data", &second),
    ]
    .concat();
    let data = |samples: &[u8]| chunk(b"data", samples);
    let cases = [
        (
            "two chunks",
            vec![fmt.clone(), data(&first), data(&second)],
            "its samples lie in several chunks",
        ),
        (
            "a note between",
            vec![fmt.clone(), data(&first), note.clone(), data(&second)],
            "its samples lie in several chunks",
        ),
        (
            "a wave list",
            vec![fmt.clone(), chunk(b"LIST", &wavl)],
            "its samples lie in several chunks",
        ),
        (
            "a wave list behind",
            vec![fmt.clone(), data(&first), chunk(b"LIST", &wavl)],
            "its samples lie in several chunks",
        ),
        (
            "two formats",
            vec![fmt.clone(), chunk(b"fmt ", &faster), data(&first)],
            "two format chunks contradict each other",
        ),
    ];
    let folder = job("file,prep\na.wav,A\n");
    for (case, chunks, words) in cases {
        std::fs::write(folder.path().join("a.wav"), riff(&chunks)).unwrap();
        let said = said(folder.path(), &["measure", "."], 3);
        assert!(said.contains(words), "{case}: {said}");
        if case.starts_with("a wave list behind") {
            continue;
        }
        // The same as it comes in through a pipe.
        let input = std::fs::File::open(folder.path().join("a.wav")).unwrap();
        let output = command(folder.path(), &["measure", "-", "--job", "job.toml"])
            .stdin(input)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{case}: {said}");
        assert!(said.contains(words), "{case}: {said}");
    }
    // The same format twice, and a note behind the samples, are no fault.
    let fine = [fmt.clone(), fmt, data(&[first, second].concat()), note];
    std::fs::write(folder.path().join("a.wav"), riff(&fine)).unwrap();
    printed(folder.path(), &["measure", "."]);
}

fn gzip(text: &str) -> Vec<u8> {
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packed.write_all(text.as_bytes()).unwrap();
    packed.finish().unwrap()
}

#[test]
fn bytes_behind_a_compressed_table_are_passed_over_with_a_word() {
    let folder = super::folder();
    let rows: String = (0..4000)
        .map(|k| {
            format!(
                "{:.4},{},12\n",
                f64::from(k) / 1e3,
                if (1001..2500).contains(&k) {
                    80 + k % 2
                } else {
                    0
                }
            )
        })
        .collect();
    let text = format!("time_s,current_a,voltage_v\n{rows}");
    let (first, second) = text.split_at(text.len() / 2);
    let table = |bytes: &[u8]| {
        std::fs::write(folder.path().join("t.csv.gz"), bytes).unwrap();
        let output = tipstrike(
            folder.path(),
            &["measure", "t.csv.gz", "--csv", "-", "--anew"],
        );
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(0), "{said}");
        (output.stdout, said)
    };
    let (plain, silent) = table(&gzip(&text));
    let (members, as_silent) = table(&[gzip(first), gzip(second)].concat());
    assert_eq!((&members, &as_silent), (&plain, &silent));
    for behind in [vec![0; 512], vec![0; 1], b"signature".to_vec()] {
        let (rows, said) = table(&[gzip(&text), behind].concat());
        assert_eq!(rows, plain);
        assert!(
            said.contains("other bytes follow the compressed text"),
            "{said}"
        );
    }
}

#[test]
fn following_notices_a_file_that_is_deleted_replaced_or_cut() {
    type End = (&'static str, fn(&Path), &'static str);
    let ends: [End; 3] = [
        (
            "deleted",
            |path| std::fs::remove_file(path).unwrap(),
            "was deleted while it was followed",
        ),
        (
            "replaced",
            |path| {
                let other = path.with_extension("new");
                std::fs::write(&other, "new").unwrap();
                std::fs::rename(other, path).unwrap();
            },
            "was replaced by another file while it was followed",
        ),
        (
            "cut",
            |path| {
                std::fs::File::options()
                    .write(true)
                    .open(path)
                    .unwrap()
                    .set_len(100)
                    .unwrap()
            },
            "was cut while it was followed",
        ),
    ];
    for (case, end, words) in ends {
        let folder = job("file,prep\na.wav,A\n");
        let args = [
            "measure", "--follow", "a.wav", "--job", "job.toml", "--jsonl", "-",
        ];
        let mut child = command(folder.path(), &args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        assert!(lines.next().unwrap().unwrap().starts_with('{'), "{case}");
        end(&folder.path().join("a.wav"));
        let told = 1 + lines.count();
        let output = child.wait_with_output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(3), "{case}: {said}");
        assert!(said.contains(words), "{case}: {said}");
        assert!(told >= 1, "{case}");
    }
}
