//! The parts of the work, each on its own: `cargo bench --bench parts`. Figures in docs/speed.md come from `against`.

#[expect(dead_code, reason = "the other bench uses the rest")]
mod made;

use std::path::{Path, PathBuf};

use divan::Bencher;
use divan::counter::{BytesCount, ItemsCount};
use made::{Coding, Pattern};
use tipstrike::job::{Context, Job, JobInfo, Measuring};
use tipstrike::measuring::gather::{GatherOptions, StartSet, gather};
use tipstrike::recording::{Block, Recording};
use tipstrike::report::page::{PageInput, page};
use tipstrike::score::StartRow;
use tipstrike::start::find;
use tipstrike::study::{CompareOptions, compare_rows as compare};

/// Bytes of a recording here.
const BYTES: u64 = 20_000_000;
/// Frames that are decoded at a time.
const PIECE: u64 = 1 << 16;

fn main() {
    divan::main();
}

/// A recording of starts one after another, and the rules to read it by.
struct Shift {
    _folder: tempfile::TempDir,
    path: PathBuf,
    job: Job,
}

impl Shift {
    fn new() -> Shift {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("shift.wav");
        made::wav(&path, BYTES, Coding::I16, Pattern::StartAfterStart);
        let job =
            Job::read_rules(&path.with_file_name(made::RULES)).expect("the rules are well-formed");
        Shift {
            _folder: folder,
            path,
            job,
        }
    }

    fn open(&self) -> Recording {
        Recording::open(&self.path, &self.job.logger).expect("it was made to be read")
    }
}

fn samples() -> StartSet {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let options = GatherOptions {
        previews: true,
        ..GatherOptions::default()
    };
    gather(&[folder], &options).expect("the samples can be read")
}

/// The one pass over every sample.
#[divan::bench]
fn scan(bencher: Bencher) {
    let shift = Shift::new();
    bencher
        .counter(BytesCount::new(BYTES))
        .bench(|| shift.open());
}

/// Every sample as amps and volts.
#[divan::bench]
fn decode(bencher: Bencher) {
    let shift = Shift::new();
    bencher.counter(BytesCount::new(BYTES)).bench_local(|| {
        let (recording, mut block) = (shift.open(), Block::default());
        for first in (0..recording.frames()).step_by(PIECE as usize) {
            let end = recording.frames().min(first + PIECE);
            recording
                .read(first..end, &mut block)
                .expect("it can be read");
        }
        block.amps.len()
    });
}

/// Finding and measuring; without voltage there is no wander, so the difference is what that costs.
#[divan::bench(args = [true, false])]
fn measure(bencher: Bencher, with_voltage: bool) {
    let mut shift = Shift::new();
    if !with_voltage {
        shift.job.logger.voltage = None;
    }
    bencher.counter(BytesCount::new(BYTES)).bench_local(|| {
        find(&shift.open(), &Measuring::default(), &Context::default()).expect("it can be measured")
    });
}

/// Two preps of so many starts each.
#[divan::bench(args = [40, 10_000])]
fn compare_starts(bencher: Bencher, each: usize) {
    let few = samples().rows;
    let rows: Vec<StartRow> = few.iter().cycle().take(2 * each).cloned().collect();
    bencher
        .counter(ItemsCount::new(rows.len()))
        .bench(|| compare(&rows, &CompareOptions::default()));
}

/// The page of the samples, traces and figures inside.
#[divan::bench]
fn report(bencher: Bencher) {
    let gathered = samples();
    let comparison = compare(&gathered.rows, &CompareOptions::default()).expect("two preps");
    let unnamed = JobInfo::default();
    bencher.bench(|| {
        page(&PageInput {
            job: &unnamed,
            rows: &gathered.rows,
            details: &gathered.details,
            after: &[],
            comparison: Some(&comparison),
            wear: &[],
            screening: None,
            every_start: false,
            sources: &gathered.sources,
            not_read: &[],
            files: &[],
            made: None,
            measuring: None,
        })
    });
}
