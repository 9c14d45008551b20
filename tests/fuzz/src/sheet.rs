//! Any bytes as a run sheet.

use std::path::Component;

use tipstrike::job::{Job, Run};
use tipstrike::measure::Measures;
use tipstrike::start::{Instants, Start};

use super::{rows, workbench};

const JOB: &[u8] = b"[prep.A]\nclass = \"WL15\"\ndiameter = \"2.4 mm\"\n[prep.B]\n[prep.\"=C\"]\n";

/// Refused with file and row, or runs inside the job's folder whose cells come through the starts table.
pub fn sheet(bytes: &[u8]) {
    let job_file = workbench::file("job.toml", JOB);
    workbench::file("runs.csv", bytes);
    match Job::read(&job_file) {
        Err(error) => workbench::says_where(&error, &["runs.csv"]),
        Ok(job) => job.runs.iter().for_each(|run| run_holds(&job, run)),
    }
}

fn run_holds(job: &Job, run: &Run) {
    assert!(!run.file.is_empty() && job.preps.contains_key(&run.prep));
    let inside = run
        .path
        .strip_prefix(&job.folder)
        .expect("inside the job's folder");
    let up = inside.components().any(|c| c == Component::ParentDir);
    assert!(!up, "{}", run.path.display());
    assert!(run.span_s().0 < run.span_s().1);
    rows::written_is_read(&rows::of_run(job, run, &[start()]));
}

fn start() -> Start {
    let instants = Instants {
        t_first_s: Some(1.0),
        t_lit_s: Some(1.5),
        ..Instants::default()
    };
    Start {
        instants,
        measures: Measures {
            run_a: Some(80.0),
            ..Measures::default()
        },
        flags: Vec::new(),
        doubts: Vec::new(),
        preview: None,
    }
}
