//! What should be the same for all preps that are to be compared, and is not.

use std::collections::{BTreeMap, BTreeSet};

use crate::fit::concern::Concern;
use crate::fit::finding::{FitFinding, Kind};
use crate::format::list;
use crate::job::file::Job;
use crate::job::run::Run;

/// Conditions of the strike that a comparison would take for a difference between the preps.
const CONDITIONS: [&str; 14] = [
    "process",
    "start_method",
    "set_a",
    "set_en_pct",
    "upslope_s",
    "gas",
    "material",
    "thickness",
    "coupon",
    "flow",
    "cup",
    "stickout",
    "arc_gap",
    "operator",
];

/// Preps by name, each with its rows.
type Preps<'a> = BTreeMap<&'a str, Vec<&'a Run>>;

/// Findings about all preps together.
pub(super) fn between(job: &Job) -> Vec<FitFinding> {
    let mut preps = Preps::new();
    for run in job.runs.iter().filter(|run| run.exclude.is_none()) {
        preps.entry(&run.prep).or_default().push(run);
    }
    let mut findings = Vec::new();
    for preps in peers(preps).iter().filter(|preps| preps.len() > 1) {
        let names: Vec<String> = preps.keys().map(|name| (*name).to_owned()).collect();
        let unlike = CONDITIONS.iter().filter_map(|column| unlike(preps, column));
        findings.extend(unlike.chain(in_turn(preps)).map(|concern| FitFinding {
            prep: list(&names),
            rows: Vec::new(),
            kind: Kind::Fit(concern, Vec::new()),
        }));
    }
    findings.sort_by_key(FitFinding::level);
    findings
}

/// Preps that may be compared. Those for another metal at another polarity are for other work.
fn peers(preps: Preps) -> Vec<Preps> {
    let mut all: Vec<Preps> = Vec::new();
    for (name, runs) in preps {
        let peer = |known: &&mut Preps| {
            let first = known.values().next();
            first.is_some_and(|first| {
                ["process", "material"]
                    .iter()
                    .any(|column| values(first, column) == values(&runs, column))
            })
        };
        match all.iter_mut().find(peer) {
            Some(known) => known.extend([(name, runs)]),
            None => all.push(Preps::from([(name, runs)])),
        }
    }
    all
}

fn values(runs: &[&Run], column: &str) -> BTreeSet<String> {
    let of = |run: &&Run| match column {
        "coupon" => run.coupon.clone(),
        "process" => Some(run.process.unwrap_or_default().name().to_owned()),
        _ => run.columns().remove(column),
    };
    let known = runs.iter().filter_map(of);
    known.filter(|value| !value.trim().is_empty()).collect()
}

/// A condition whose values are not the same for all preps.
fn unlike(preps: &Preps, column: &'static str) -> Option<Concern> {
    let each: Vec<(String, Vec<String>)> = preps
        .iter()
        .map(|(name, runs)| {
            let values = values(runs, column).into_iter().collect();
            ((*name).to_owned(), values)
        })
        .collect();
    let same = each.iter().all(|(_, values)| *values == each[0].1);
    (!same).then_some(Concern::Unlike { column, each })
}

/// Two preps whose rows are not mixed: all of one, then all of the other.
fn in_turn(preps: &Preps) -> Option<Concern> {
    let span = |runs: &[&Run]| {
        let numbers = || runs.iter().map(|run| run.number);
        Some((numbers().min()?, numbers().max()?)).filter(|_| runs.len() > 1)
    };
    let spans = preps
        .iter()
        .filter_map(|(name, runs)| Some((*name, span(runs)?)));
    let mut spans: Vec<(&str, (u32, u32))> = spans.collect();
    spans.sort_by_key(|(_, span)| *span);
    let apart = spans.windows(2).find(|two| two[0].1.1 < two[1].1.0)?;
    Some(Concern::InTurn {
        first: apart[0].0.to_owned(),
        then: apart[1].0.to_owned(),
    })
}
