//! Whole commands against what reading the file costs: makes big recordings, runs `tipstrike measure` on them, and prints the ratios
//! of one run as a table (docs/speed.md). `cargo bench --bench against`, or `-- 60` for 60 MB in place of 600.
//!
//! Invented recordings: they are read for their length, not for what is in them. Linux only (peak memory is read from /proc).

mod cost;
mod made;

use std::fs::File;
use std::hint::black_box;
use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use cost::{Cost, RUNS, row, watched};
use made::{Coding, Pattern};

fn main() {
    let megabytes: u64 = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(600);
    let folder = tempfile::Builder::new()
        .prefix("speed")
        .tempdir()
        .expect("a folder for big files");
    let at = |name: &str| folder.path().join(name);
    let size = megabytes * 1_000_000;
    println!(
        "{} MB, medians of {RUNS}, {} cores\n",
        megabytes,
        std::thread::available_parallelism().map_or(0, usize::from)
    );
    cost::head("recording");

    let sparse = at("sparse.wav");
    made::wav(&sparse, size, Coding::I16, Pattern::EveryTwentySeconds);
    let cat = row(
        "16-bit, a start every 20 s",
        "cat FILE \\| wc -c",
        None,
        || shell_count(&sparse),
    );
    let measured = row("", "measure", Some(("cat", cat)), || measure(&sparse));
    row(
        "",
        "hound's sample iterator",
        Some(("measure", measured)),
        || hound_loop(&sparse),
    );

    let long = at("long.wav");
    made::wav(&long, 10 * size, Coding::I16, Pattern::EveryTwentySeconds);
    row(
        "the same, ten times as long",
        "measure",
        Some(("measure", measured)),
        || measure(&long),
    );
    std::fs::remove_file(&long).expect("it was made");

    for (name, coding) in [("24-bit", Coding::I24), ("32-bit float", Coding::F32)] {
        let path = at("other.wav");
        made::wav(&path, size, coding, Pattern::EveryTwentySeconds);
        row(name, "measure", Some(("measure, 16-bit", measured)), || {
            measure(&path)
        });
    }
    for (name, pattern) in [
        (
            "16-bit, arcs of 4 s, one after another",
            Pattern::ArcAfterArc,
        ),
        (
            "16-bit, arcs of 1.1 s, one after another",
            Pattern::StartAfterStart,
        ),
    ] {
        let path = at("dense.wav");
        made::wav(&path, size, Coding::I16, pattern);
        let of = Some(("measure, every 20 s", measured));
        row(name, "measure", of, || measure(&path));
    }

    let table = at("table.csv");
    made::csv(&table, size / 6 * 5);
    let by_crate = row(
        &format!("CSV, {} MB", megabytes / 6 * 5),
        "csv crate and str::parse",
        None,
        || csv_loop(&table),
    );
    row("", "measure", Some(("csv crate", by_crate)), || {
        measure(&table)
    });

    let shift = at("shift");
    made::folder(&shift, 1000);
    row("1,000 WAV of 2 s", "measure", None, || measure(&shift));
    let (few, many) = (at("few"), at("many"));
    made::folder(&few, 4000);
    made::folder(&many, 32_000);
    let of_few = row("4,000 WAV of 2 s", "measure", None, || measure(&few));
    row(
        "32,000 WAV of 2 s",
        "measure",
        Some(("measure, 4,000", of_few)),
        || measure(&many),
    );
}

/// Times what runs in this process.
fn timed(run: impl FnOnce()) -> Cost {
    let began = Instant::now();
    run();
    Cost {
        seconds: began.elapsed().as_secs_f64(),
        peak_mib: 0.0,
    }
}

fn shell_count(path: &Path) -> Cost {
    let script = format!("cat '{}' | wc -c", path.display());
    timed(|| {
        let done = Command::new("sh")
            .args(["-c", &script])
            .stdout(Stdio::null())
            .status()
            .expect("sh runs");
        assert!(done.success());
    })
}

/// `tipstrike measure` with the job file that [`made`] lays beside the recordings; its peak resident memory too.
fn measure(input: &Path) -> Cost {
    let job = input.with_file_name(made::RULES);
    let began = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_tipstrike"))
        .args(["measure", "--quiet", "--csv", "-", "--job"])
        .args([job.as_os_str(), input.as_os_str()])
        .stdout(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut table = child.stdout.take().expect("it was asked for");
    let reader = std::thread::spawn(move || {
        let mut text = String::new();
        table
            .read_to_string(&mut text)
            .map(|_| text.lines().count())
    });
    let (code, peak_mib) = watched(&mut child);
    let seconds = began.elapsed().as_secs_f64();
    assert_eq!(code, 0, "measure {}", input.display());
    let lines = reader
        .join()
        .expect("it does not panic")
        .expect("a table of text");
    assert!(lines > 1, "no start in {}", input.display());
    Cost { seconds, peak_mib }
}

fn hound_loop(path: &Path) -> Cost {
    timed(|| {
        let mut wav = hound::WavReader::open(path).expect("a WAV file");
        let sum: i64 = wav
            .samples::<i16>()
            .map(|s| i64::from(s.expect("a sample")))
            .sum();
        black_box(sum);
    })
}

/// Every field of every record.
fn csv_loop(path: &Path) -> Cost {
    timed(|| {
        let mut table = csv::Reader::from_reader(File::open(path).expect("a table"));
        let (mut record, mut sum) = (csv::StringRecord::new(), 0.0);
        while table.read_record(&mut record).expect("a record") {
            sum += record
                .iter()
                .map(|f| f.parse::<f64>().expect("a number"))
                .sum::<f64>();
        }
        black_box(sum);
    })
}
