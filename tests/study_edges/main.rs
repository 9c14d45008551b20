//! Screening, wear, comparisons, plans and tables at their limits, where a turned or moved comparison would say something else.

mod answering;
mod comparing;
mod following;
mod gathering;
mod numbers;
mod planning;
mod screening;
mod striking;
mod wearing;

use crate::study_support::start;
use tipstrike::job::{Job, Process, Run};
use tipstrike::measure::Measure;
use tipstrike::measure::Measures;
use tipstrike::measuring::gather::{Detail, StartSet};
use tipstrike::score::{StartRow, start_row};
use tipstrike::start::{Instants, Start};
use tipstrike::study::{CompareOptions, Comparison, compare_rows as compare};

/// A job whose prep B is held to targets of its own, and `count` starts of each whose start time grows by 10 ms a start.
fn worn_job(count: u32) -> StartSet {
    let text = "[prep.A]\n[prep.B]\n[prep.B.targets]\nstart_ms = { good = 20, poor = 200 }\n";
    let job = Job::parse(text, "job.toml", Default::default()).unwrap();
    let mut gathered = StartSet::default();
    for prep in ["A", "B"] {
        let run = Run {
            number: 1,
            file: format!("{prep}.wav"),
            prep: prep.into(),
            set_a: Some(80.0),
            process: Some(Process::Dc),
            since_regrind: Some(1),
            ..Run::default()
        };
        for k in 1..=count {
            let measures = Measures {
                start_ms: Some(20.0 + 10.0 * f64::from(k)),
                attempts: Some(1.0),
                ..Measures::default()
            };
            let instants = Instants {
                t_first_s: Some(f64::from(k)),
                t_lit_s: Some(f64::from(k)),
                ..Instants::default()
            };
            let start = Start {
                instants,
                measures,
                flags: Vec::new(),
                doubts: Vec::new(),
                preview: None,
            };
            let (row, score) = start_row(&job, &run, k, &start);
            gathered.rows.push(row);
            gathered.details.push(Detail {
                score,
                preview: None,
            });
        }
    }
    gathered
}

fn compared(rows: &[StartRow]) -> Comparison {
    compared_by(rows, "prep", "score")
}

fn compared_by(rows: &[StartRow], by: &str, measure: &str) -> Comparison {
    let options = CompareOptions {
        by: by.into(),
        measures: vec![measure.into()],
        ..CompareOptions::default()
    };
    compare(rows, &options).unwrap()
}

/// Forty starts of A that light at once, and forty of B of which fourteen take two attempts.
fn retries() -> Vec<StartRow> {
    let of = |prep: &'static str, twos: u32| {
        (0..40).map(move |k| {
            let mut row = start(prep, k + 1, 80.0);
            row.measures
                .set(Measure::Attempts, Some(if k < twos { 2.0 } else { 1.0 }));
            row
        })
    };
    of("A", 0).chain(of("B", 14)).collect()
}
