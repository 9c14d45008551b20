//! The classes of real machines and loggers, measured as a user measures them: right, said, or silently wrong
//! (docs/accuracy.md).
//!
//! `TIPSTRIKE_LONG=1` draws other signals each time, and more of them. `TIPSTRIKE_SEED` draws from a number, `TIPSTRIKE_STARTS` makes so
//! many starts in all, `TIPSTRIKE_CLASS` keeps to one class, `TIPSTRIKE_KEEP` names a folder for the jobs with a silent or doubted start.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::UNIX_EPOCH;

use rayon::prelude::*;
use serde_json::Value;
use tipstrike::demo::classes::{self, Class, ClassJob, ClassStart};
use tipstrike::measuring::gather::{GatherOptions, gather};
use tipstrike::measuring::table::write_jsonl;

use crate::judge::{Finding, Judge};

/// Of the short form.
const SEED: u64 = 15;
const STARTS: usize = 200;
/// Of the long form, which draws from the clock.
const LONG_STARTS: usize = 1020;
/// Starts of one recording, about.
const EACH: usize = 3;

/// Of 100 starts that can be measured, so many are right.
const LEAST_RIGHT_PCT: f64 = 93.0;
/// The same without the classes of coupling.
const LEAST_RIGHT_UNCOUPLED_PCT: f64 = 95.0;
/// Of 1,000 starts, fewer than this are wrong without a word: none of the short form. Longer ones still find some
/// (docs/accuracy.md says which).
const SILENT_PER_1000: f64 = 2.0;
/// Of 100 starts, at most so many are doubted though right.
const MOST_DOUBTED_PCT: f64 = 3.0;

/// What the starts of a class came to.
#[derive(Debug, Clone, Copy, Default)]
struct Counts {
    /// Starts that the recordings can carry.
    measurable: usize,
    /// Starts that may only be said.
    only_said: usize,
    right: usize,
    doubted: usize,
    said: usize,
    /// Wrong, missed or invented, and nothing said.
    silent: usize,
}

impl std::ops::AddAssign for Counts {
    fn add_assign(&mut self, other: Counts) {
        self.measurable += other.measurable;
        self.only_said += other.only_said;
        self.right += other.right;
        self.doubted += other.doubted;
        self.said += other.said;
        self.silent += other.silent;
    }
}

impl Counts {
    fn starts(&self) -> usize {
        self.measurable + self.only_said
    }

    fn right_pct(&self) -> f64 {
        100.0 * self.right as f64 / self.measurable.max(1) as f64
    }
}

/// What became of one recording, and a line for everything silent.
struct Outcome {
    class: Class,
    counts: Counts,
    /// What is silent, and what is doubted though right.
    lines: Vec<String>,
}

fn from_env<T: std::str::FromStr>(name: &str) -> Option<T> {
    let text = std::env::var(name).ok()?;
    let value = text.parse().ok();
    assert!(value.is_some(), "{name} cannot be {text}");
    value
}

/// The rows of a job's starts table, as its JSON Lines have them.
fn rows(folder: &Path) -> Vec<Value> {
    let set = gather(&[folder.to_path_buf()], &GatherOptions::default()).unwrap();
    assert!(set.not_read.is_empty(), "{:?}", set.not_read);
    let mut text = Vec::new();
    write_jsonl(&set.rows, &mut text).unwrap();
    let text = String::from_utf8(text).unwrap();
    text.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

/// From when to when a start lasts, by its own first and last instant.
fn span(instants: [Option<f64>; 3], length_s: f64) -> (f64, f64) {
    let [open, first, out] = instants;
    let begin = open.or(first).unwrap_or(0.0);
    let end = match (first, out) {
        // Nothing conducted: it lasts as long as anything does before the next start.
        (None, _) => begin + 0.1,
        (_, out) => out.unwrap_or(length_s),
    };
    (begin, end.max(begin + 1e-3))
}

/// For each start the row that overlaps it most, and the rows that no start has.
fn matched<'a>(
    starts: &'a [ClassStart],
    rows: &'a [Value],
) -> (Vec<(&'a ClassStart, Option<&'a Value>)>, Vec<&'a Value>) {
    let true_span = |s: &ClassStart| {
        let t = &s.truth;
        span([t.t_open_s, t.t_first_s, t.t_out_s], f64::MAX)
    };
    let row_span = |r: &Value| {
        let at = |name: &str| r[name].as_f64();
        span([at("t_open_s"), at("t_first_s"), at("t_out_s")], f64::MAX)
    };
    let mut left: Vec<&Value> = rows.iter().collect();
    let mut pairs = Vec::new();
    for start in starts {
        let (on, off) = true_span(start);
        let overlap = |row: &Value| {
            let (from, to) = row_span(row);
            to.min(off) - from.max(on)
        };
        let best = (0..left.len())
            .filter(|k| overlap(left[*k]) > 0.0)
            .max_by(|a, b| overlap(left[*a]).total_cmp(&overlap(left[*b])));
        pairs.push((start, best.map(|k| left.remove(k))));
    }
    (pairs, left)
}

fn judged(job: &ClassJob, rate_hz: f64, rows: &[Value]) -> Outcome {
    let (pairs, invented) = matched(&job.starts, rows);
    let mut outcome = Outcome {
        class: job.class,
        counts: Counts::default(),
        lines: Vec::new(),
    };
    let counts = &mut outcome.counts;
    for (number, (start, row)) in pairs.into_iter().enumerate() {
        match start.only_said {
            true => counts.only_said += 1,
            false => counts.measurable += 1,
        }
        let finding = row.map(|row| {
            let judge = Judge {
                class: job.class,
                rate_hz,
                start,
                row,
            };
            judge.finding()
        });
        match finding {
            Some(Finding::Right { doubted }) => {
                counts.right += 1;
                counts.doubted += usize::from(doubted);
                if let Some(row) = row.filter(|_| doubted) {
                    let line = format!(
                        "{} start {}: right, doubted: {}",
                        job.folder,
                        number + 1,
                        row["doubt"]
                    );
                    outcome.lines.push(line);
                }
            }
            Some(Finding::Said) => counts.said += 1,
            Some(Finding::Silent(off)) => {
                counts.silent += 1;
                let line = format!("{} start {}: {}", job.folder, number + 1, off.join("; "));
                outcome.lines.push(line);
            }
            None => {
                counts.silent += 1;
                let line = format!("{} start {}: missed", job.folder, number + 1);
                outcome.lines.push(line);
            }
        }
    }
    let told = |row: &&Value| row["flags"].to_string().contains("\"doubtful\"");
    for row in invented.into_iter().filter(|row| !told(row)) {
        counts.silent += 1;
        let from = [&row["t_open_s"], &row["t_first_s"]];
        let line = format!("{}: invented, from {from:?}", job.folder);
        outcome.lines.push(line);
    }
    outcome
}

/// Makes a recording, measures it, and judges its rows.
fn outcome(class: Class, seed: u64, number: u64) -> Outcome {
    let job = classes::job(class, seed, number);
    let stage = tempfile::tempdir().unwrap();
    std::fs::create_dir(stage.path().join(&job.folder)).unwrap();
    for file in &job.files {
        std::fs::write(stage.path().join(&file.path), &file.bytes).unwrap();
    }
    let rows = rows(&stage.path().join(&job.folder));
    let outcome = judged(&job, job.rate_hz, &rows);
    if let Some(kept) = std::env::var_os("TIPSTRIKE_KEEP").filter(|_| !outcome.lines.is_empty()) {
        let kept = Path::new(&kept);
        std::fs::create_dir_all(kept.join(&job.folder)).unwrap();
        for file in &job.files {
            std::fs::write(kept.join(&file.path), &file.bytes).unwrap();
        }
    }
    outcome
}

fn table(by_class: &BTreeMap<Class, Counts>, all: &Counts) -> String {
    let mut text = String::from(
        "| class | starts | right | of them doubted | said | silent |\n| --- | --- | --- | --- | --- | --- |\n",
    );
    let named = by_class.iter().map(|(class, c)| (class.name(), c));
    for (name, c) in named.chain([("all", all)]) {
        text += &format!(
            "| {name} | {} | {} | {} | {} | {} |\n",
            c.starts(),
            c.right,
            c.doubted,
            c.said,
            c.silent
        );
    }
    text
}

#[test]
fn starts_of_real_machines_and_loggers_are_right_or_said() {
    let long = crate::long_form::long();
    let clock = || UNIX_EPOCH.elapsed().unwrap().as_secs() % 1_000_000;
    let seed = from_env("TIPSTRIKE_SEED").unwrap_or_else(|| if long { clock() } else { SEED });
    let starts = from_env("TIPSTRIKE_STARTS").unwrap_or(if long { LONG_STARTS } else { STARTS });
    println!("TIPSTRIKE_SEED={seed} TIPSTRIKE_STARTS={starts}");
    let only: Option<String> = from_env("TIPSTRIKE_CLASS");
    let chosen = |class: &&Class| only.as_ref().is_none_or(|name| name == class.name());
    let made: Vec<Class> = Class::ALL.iter().filter(chosen).copied().collect();
    let each = starts.div_ceil(made.len() * EACH) as u64;
    let numbers: Vec<(Class, u64)> = made
        .iter()
        .flat_map(|class| (0..each).map(move |number| (*class, number)))
        .collect();
    let outcomes: Vec<Outcome> = numbers
        .par_iter()
        .map(|(class, number)| outcome(*class, seed, *number))
        .collect();
    let mut by_class: BTreeMap<Class, Counts> = BTreeMap::new();
    let (mut all, mut uncoupled) = (Counts::default(), Counts::default());
    for outcome in &outcomes {
        *by_class.entry(outcome.class).or_default() += outcome.counts;
        all += outcome.counts;
        if !outcome.class.is_coupling() {
            uncoupled += outcome.counts;
        }
        outcome.lines.iter().for_each(|line| println!("{line}"));
    }
    println!("{}", table(&by_class, &all));
    held(&all, &uncoupled);
}

fn held(all: &Counts, uncoupled: &Counts) {
    let silent = 1000.0 * all.silent as f64 / all.starts() as f64;
    let doubted = 100.0 * all.doubted as f64 / all.starts() as f64;
    println!(
        "right {:.1} % of what can be measured, {:.1} % without coupling; silent {silent:.1} of 1,000; doubted though right {doubted:.1} %",
        all.right_pct(),
        uncoupled.right_pct()
    );
    assert!(
        silent < SILENT_PER_1000,
        "{silent:.1} of 1,000 are silently wrong"
    );
    assert!(all.right_pct() >= LEAST_RIGHT_PCT, "{all:?}");
    assert!(
        uncoupled.right_pct() >= LEAST_RIGHT_UNCOUPLED_PCT,
        "{uncoupled:?}"
    );
    assert!(
        doubted <= MOST_DOUBTED_PCT,
        "{doubted:.1} % are doubted though right"
    );
}
