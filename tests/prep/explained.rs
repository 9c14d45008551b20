//! A score explained line by line, and whose targets spoke.

use tipstrike::report::text;
use tipstrike::report::text::TermStyle;
use tipstrike::score::explain;

use super::score::{PREPS, good_start, job, row, run};

#[test]
fn the_explanation_names_what_cost_most_and_whose_targets_spoke() {
    let mut start = good_start();
    start.measures.start_ms = Some(300.0);
    start.measures.wander_v = Some(0.3);
    let (at, score) = row(&job(PREPS), &run("A"), &start);
    let said = explain(&at, &score);
    // (100/340)^(3/11) × (0.7/0.8)^(2/11) = 0.699
    assert_eq!(
        said[0],
        "Start 1 of a.wav (run 1, 1.00 s), prep A: 70 of 100, fair."
    );
    assert_eq!(said[1], "Fair: the score is under 80.");
    assert!(
        said[2].starts_with("The start time cost the most"),
        "{}",
        said[2]
    );
    assert!(
        said[3].starts_with(
            "- start time: 300 ms; good to 60.0 ms, poor from 400 ms; desirability 0.29, weight 3"
        ),
        "{}",
        said[3]
    );
    assert!(
        said[3].ends_with("Targets: built in (DC, 30 to 150 A)."),
        "{}",
        said[3]
    );
}

#[test]
fn the_targets_used_are_told_once_a_prep_and_origin() {
    let job = job(&format!(
        "{PREPS}\n[prep.B.targets]\nstart_ms = {{ good = 20, poor = 90, shape = 2 }}\n"
    ));
    let starts = ["A", "A", "B"].map(|prep| row(&job, &run(prep), &good_start()));
    let scored = starts.iter().map(|(row, score)| (row, score));
    let told = text::targets(scored, TermStyle::plain(1000));
    let lines: Vec<&str> = told.lines().collect();
    assert_eq!(lines.len(), 4, "{told}");
    let built_in = "A, built in (DC, 30 to 150 A): start time 60, 400 ms, 3; attempts 1, 4, 2;";
    assert!(lines[1].trim_start().starts_with(built_in), "{}", lines[1]);
    assert_eq!(
        lines[2].trim_start(),
        "B, [prep.B.targets]: start time 20, 90 ms, 3, shape 2."
    );
}
