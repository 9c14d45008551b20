//! The classes of real machines and loggers, followed while they are recorded: the same starts as in the file.

use std::path::Path;

use rayon::prelude::*;
use tipstrike::demo::classes::{self, Class};
use tipstrike::flag::Flag;
use tipstrike::measuring::gather::{GatherOptions, gather, job_by_rules};
use tipstrike::measuring::live::Follow;
use tipstrike::score::StartRow;

/// Another draw than that of the classes' own test.
const SEED: u64 = 51;
/// Bytes that come at a time: some tens of milliseconds.
const PIECE: usize = 4096;
/// Instants of a start that both trust may differ by this, s (this project's own, as for the file: the zero comes from the last seconds
/// alone), or by two samples.
const INSTANT_S: f64 = 0.5e-3;
const RUN_PART: f64 = 0.02;

/// A recording's starts from its file, and as they were told while it was made.
fn both(folder: &Path) -> (Vec<StartRow>, Vec<StartRow>) {
    let (rules, file) = (folder.join("job.toml"), folder.join("starts.wav"));
    let options = GatherOptions {
        job: Some(&rules),
        ..GatherOptions::default()
    };
    let filed = gather(std::slice::from_ref(&file), &options).unwrap().rows;
    let job = job_by_rules(Some(&rules), None, std::slice::from_ref(&file)).unwrap();
    let mut follow = Follow::new(&job, &job.runs[0]).unwrap();
    let mut told = Vec::new();
    for piece in std::fs::read(&file).unwrap().chunks(PIECE) {
        told.extend(follow.push(piece).unwrap());
    }
    told.extend(follow.finish().unwrap());
    (filed, told)
}

fn doubtful(row: &StartRow) -> bool {
    row.flags.contains(&Flag::Doubtful)
}

/// What is not alike of two rows; a row that is doubtful says so itself.
fn differs(file: &StartRow, live: &StartRow, rate_hz: f64) -> Option<String> {
    if doubtful(file) || doubtful(live) {
        return None;
    }
    let instant = INSTANT_S.max(2.0 / rate_hz);
    let near = |a: Option<f64>, b: Option<f64>, within: f64| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= within,
        (a, b) => a == b,
    };
    let (a, b, m, n) = (
        &file.instants,
        &live.instants,
        &file.measures,
        &live.measures,
    );
    let run = RUN_PART * m.run_a().unwrap_or(0.0);
    let alike = [
        ("t_first_s", near(a.t_first_s, b.t_first_s, instant)),
        ("t_lit_s", near(a.t_lit_s, b.t_lit_s, instant)),
        ("attempts", m.attempts() == n.attempts()),
        ("dropouts", m.dropouts() == n.dropouts()),
        ("touches", m.touches() == n.touches()),
        ("run_a", near(m.run_a(), n.run_a(), run)),
    ];
    let off: Vec<&str> = alike
        .iter()
        .filter(|(_, is)| !is)
        .map(|(n, _)| *n)
        .collect();
    (!off.is_empty()).then(|| off.join(", "))
}

/// When a start began, as far as it is known.
fn begins(row: &StartRow) -> f64 {
    let i = &row.instants;
    i.t_lit_s.or(i.t_first_s).or(i.t_open_s).unwrap_or(0.0)
}

fn unlike(class: Class) -> (usize, Vec<String>) {
    let job = classes::job(class, SEED, 0);
    let stage = tempfile::tempdir().unwrap();
    std::fs::create_dir(stage.path().join(&job.folder)).unwrap();
    for file in &job.files {
        std::fs::write(stage.path().join(&file.path), &file.bytes).unwrap();
    }
    let (filed, mut told) = both(&stage.path().join(&job.folder));
    let mut lines = Vec::new();
    for file in &filed {
        let apart = |row: &StartRow| (begins(row) - begins(file)).abs();
        let nearest = (0..told.len()).min_by(|a, b| apart(&told[*a]).total_cmp(&apart(&told[*b])));
        let live = nearest
            .filter(|k| apart(&told[*k]) < 0.1)
            .map(|k| told.remove(k));
        let off = match &live {
            Some(live) => differs(file, live, job.rate_hz),
            None => (!doubtful(file)).then(|| "is not told".to_owned()),
        };
        lines.extend(off.map(|off| format!("{} at {:.3} s: {off}", job.folder, begins(file))));
    }
    let more = told.iter().filter(|row| !doubtful(row));
    lines.extend(more.map(|row| format!("{}: only live, at {:.3} s", job.folder, begins(row))));
    (filed.len(), lines)
}

#[test]
fn what_is_followed_live_has_the_starts_of_its_file() {
    // The low end of a coupled recording is restored over a whole one only.
    let made: Vec<Class> = Class::ALL
        .iter()
        .copied()
        .filter(|class| *class != Class::CoupledStated)
        .collect();
    let found: Vec<(usize, Vec<String>)> = made.par_iter().map(|class| unlike(*class)).collect();
    let starts: usize = found.iter().map(|f| f.0).sum();
    let lines: Vec<&String> = found.iter().flat_map(|f| &f.1).collect();
    lines.iter().for_each(|line| println!("{line}"));
    println!("{} of {starts} starts are not alike", lines.len());
    assert!(starts >= 3 * (made.len() - 1), "{starts}");
    assert!(lines.is_empty(), "{lines:?}");
}
