//! Large starts tables against the table engines that a plant has: screens a made table, as CSV and as Parquet, and lets the engines
//! read and group the same. `cargo bench --features parquet --bench tables`, or `-- 100000` for a tenth of the rows.
//!
//! PYTHON names an interpreter with duckdb, polars and pyarrow (`tests/reference/requirements.txt` has the first); without it
//! they are left out, and that is said. Linux only (peak memory is read from /proc).

mod cost;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use cost::{Cost, RUNS, row, watched};
use tipstrike::measure::Measure;
use tipstrike::measuring::table;
use tipstrike::score::{StartRow, Verdict};

/// Cells of the plant.
const CELLS: usize = 40;
/// Starts of a cell and a day.
const STARTS: usize = 2000;

/// Each engine with its way to read the table and group it by cell.
const ENGINES: [(&str, &str); 3] = [
    (
        "duckdb, grouped",
        "import duckdb; duckdb.execute(\"SELECT cell, count(*), count(*) FILTER (verdict = 'rough'), median(start_ms), avg(score) FROM 'TABLE' GROUP BY cell\").fetchall()",
    ),
    (
        "polars, grouped",
        "import polars as p; p.scan_csv('TABLE').group_by('cell').agg(p.len(), (p.col('verdict') == 'rough').sum(), p.col('start_ms').median(), p.col('score').mean()).collect()",
    ),
    (
        "pyarrow, read only",
        "import pyarrow.csv as c; c.read_csv('TABLE')",
    ),
];

fn main() {
    let starts: usize = std::env::args()
        .find_map(|a| a.parse().ok())
        .unwrap_or(1_000_000);
    let folder = tempfile::tempdir().expect("a folder for big files");
    let at = |name: &str| folder.path().join(name);
    println!("{starts} starts of {CELLS} cells, medians of {RUNS}\n");
    cost::head("table");
    let rows: Vec<StartRow> = (0..starts).map(start).collect();
    let csv = at("starts.csv");
    let file = std::fs::File::create(&csv).expect("a file");
    table::write_csv(&rows, file).expect("a table");
    let plant = at("plant");
    let parquet = table::add_parquet(&plant, &rows);
    drop(rows);

    let python = std::env::var_os("PYTHON");
    let mut of = None;
    for (name, script) in ENGINES.iter().filter(|_| python.is_some()) {
        let script = script.replace("TABLE", &csv.display().to_string());
        let interpreter = python.clone().expect("it was asked for");
        let seconds = row("CSV", name, None, || {
            program(Command::new(&interpreter).args(["-c", &script]), |code| {
                code == 0
            })
        });
        of = of.or(Some(("duckdb", seconds)));
    }
    if python.is_none() {
        eprintln!("!!! THE ENGINES WERE NOT RUN: PYTHON names no interpreter that has them.");
    }
    row("CSV", "screen --by cell", of, || ask(&csv, "screen"));
    row("CSV", "compare --by prep", of, || ask(&csv, "compare"));
    row("CSV", "report", of, || ask(&csv, "report"));
    match parquet {
        Ok(()) => drop(row("Parquet", "screen --by cell", of, || {
            ask(&plant, "screen")
        })),
        Err(error) => eprintln!("!!! PARQUET WAS NOT READ: {error}"),
    }
}

/// Runs a program whose output nobody reads; `done` says whether its exit code is a good one.
fn program(command: &mut Command, done: impl Fn(i32) -> bool) -> Cost {
    let began = Instant::now();
    let mut child = command.stdout(Stdio::null()).spawn().expect("it starts");
    let (code, peak_mib) = watched(&mut child);
    let seconds = began.elapsed().as_secs_f64();
    assert!(done(code), "{command:?} ended with {code}");
    Cost { seconds, peak_mib }
}

/// A question to the program, by cell or prep; a batch that is not clean ends with 1.
fn ask(table: &Path, verb: &str) -> Cost {
    let by = if verb == "screen" { "cell" } else { "prep" };
    let mut command = Command::new(env!("CARGO_BIN_EXE_tipstrike"));
    command.args([verb, "--quiet", "--by", by]).arg(table);
    if verb == "report" {
        command.arg("-o").arg(table.with_file_name("page.html"));
    }
    program(&mut command, |code| code < 2)
}

/// A start of a plant, the same in every run: tips of 60 starts, one start in 40 rough.
fn start(k: usize) -> StartRow {
    // The fractional parts of multiples of the golden ratio are spread evenly.
    let part = |of: f64| (k as f64 * 0.618_033_988_749_895 * of).fract();
    let (cell, day, own) = (k / STARTS % CELLS, k / STARTS / CELLS, k % STARTS);
    let rough = k % 40 == 7;
    let mut row = StartRow {
        recording: format!("cell{cell}/{day}-{}.wav", own / 500).into(),
        run: (own / 500) as u32 + 1,
        prep: if cell % 2 == 0 { "A" } else { "B" }.into(),
        tip_id: Some(format!("T{cell}-{day}-{}", own / 60).into()),
        cell: Some(cell.to_string().into()),
        date: Some(format!("2026-{:02}-{:02}", day / 28 % 12 + 1, day % 28 + 1).into()),
        start: (own % 500) as u32 + 1,
        score: Some(if rough { 40.0 } else { 80.0 } + 19.0 * part(1.0)),
        verdict: Some(if rough {
            Verdict::Rough
        } else {
            Verdict::Crisp
        }),
        ..StartRow::default()
    };
    let from = 7.25 * f64::from(row.start) + part(2.0);
    row.instants.t_first_s = Some(from);
    row.instants.t_lit_s = Some(from + 0.005);
    row.instants.t_out_s = Some(from + 3.0);
    row.measures
        .set(Measure::StartMs, Some(50.0 + 30.0 * part(3.0)));
    row.measures
        .set(Measure::WanderV, Some(0.1 + 0.05 * part(5.0)));
    row.measures
        .set(Measure::RunA, Some(79.0 + 2.0 * part(7.0)));
    row.measures.set(Measure::Attempts, Some(1.0));
    row.measures.set(Measure::Dropouts, Some(0.0));
    row.measures
        .set(Measure::SinceRegrind, Some((own % 60) as f64 + 1.0));
    row
}
