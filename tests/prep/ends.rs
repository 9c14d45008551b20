//! What is just allowed, and what an empty or a single part of an input gives.

use tipstrike::flag::Flag;
use tipstrike::job::{Job, Run};
use tipstrike::measure::Measure;
use tipstrike::score::{explain, targets_for};

use super::score::{self, good_start};

fn read(text: &str) -> Result<Job, String> {
    Job::parse(text, "job.toml", Default::default()).map_err(|e| e.to_string())
}

#[test]
fn a_prep_and_its_measuring_may_lie_at_their_ends() {
    let prep = |keys: &str| read(&format!("[prep.A]\n{keys}\n"));
    assert!(prep("taper_deg = 0").is_err() && prep("taper_deg = 180").is_err());
    assert!(prep("taper_deg = 0.1").is_ok() && prep("taper_deg = 179.9").is_ok());
    assert!(prep("diameter = \"2.4 mm\"\ntip_flat = \"2.4 mm\"").is_ok());
    assert!(prep("[measuring]\nconduct_release = 1").is_ok());
    assert!(
        prep("taper_deg = { a = 1 }")
            .unwrap_err()
            .contains("found a table, expected a number")
    );
}

/// The lines between the words themselves belong to the better word.
#[test]
fn a_score_of_just_50_or_80_is_not_under_it() {
    let because = |value: f64, attempts: f64, dropouts: f64| {
        let mut start = good_start();
        (start.measures.attempts, start.measures.dropouts) = (Some(attempts), Some(dropouts));
        let (row, mut score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
        score.value = value;
        explain(&row, &score)[1].clone()
    };
    assert_eq!(
        because(50.0, 1.0, 1.0),
        "Rough: it dropped out (1×) after it was lit."
    );
    assert_eq!(because(80.0, 2.0, 0.0), "Fair: it took 2 attempts.");
}

#[test]
fn counts_are_told_without_decimals() {
    let (row, score) = score::row(&score::job(score::PREPS), &score::run("A"), &good_start());
    let said = explain(&row, &score).join("\n");
    assert!(
        said.contains("attempts: 1; good to 1, poor from 4"),
        "{said}"
    );
}

#[test]
fn a_start_that_did_not_settle_has_no_good_start_time_and_keeps_the_rest() {
    let mut start = good_start();
    start.flags = vec![Flag::NotSettled];
    let (_, score) = score::row(&score::job(score::PREPS), &score::run("A"), &start);
    let zero: Vec<Measure> = score
        .parts
        .iter()
        .filter(|p| p.desirability == 0.0)
        .map(|p| p.measure)
        .collect();
    assert_eq!(zero, [Measure::StartMs]);
}

/// docs/scoring.md lists the measures in this order; one of weight 0 is not asked for.
#[test]
fn targets_stand_in_the_order_of_the_docs_and_without_weight_not_at_all() {
    let job = score::job(&format!(
        "{}[targets]\nrise_ms = {{ good = 1, poor = 2 }}\nwander_v = {{ weight = 0 }}\n",
        score::PREPS
    ));
    let mut start = good_start();
    start.measures.rise_ms = Some(0.5);
    let listed: Vec<Measure> = targets_for(&job, &score::run("A"), &start)
        .list
        .iter()
        .map(|t| t.measure)
        .collect();
    let mut ordered = listed.clone();
    ordered.sort_by_key(|m| {
        tipstrike::job::TARGET_MEASURES
            .iter()
            .position(|known| known == m)
    });
    assert_eq!(listed, ordered);
    assert_eq!(listed.len(), 7);
    let (_, score) = score::row(&job, &score::run("A"), &start);
    assert!(
        score
            .parts
            .iter()
            .all(|part| part.measure != Measure::WanderV)
    );
}

#[test]
fn a_recording_named_by_itself_is_the_run_of_its_number() {
    let run = Run::bare(7, "some/a.wav".as_ref());
    assert_eq!((run.number, run.file.as_str()), (7, "a.wav"));
}
