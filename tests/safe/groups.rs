//! Hundreds of groups are compared in seconds: the worst first for a person, all of them for a program.

use std::time::{Duration, Instant};

use super::*;

/// Starts of 200 groups of six tips; one group is far worse than the others.
fn many() -> String {
    let mut noise = 1_u32;
    let mut next = move || {
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(noise >> 16) / 65_536.0
    };
    let mut text =
        "recording,run,start,prep,tip_id,t_lit_s,score,start_ms,verdict,lit\n".to_owned();
    for group in 0..200 {
        for start in 0..12 {
            // A sum of four is near enough to a normal value.
            let draw = next() + next() + next() + next() - 2.0;
            let score = if group == 77 { 40.0 } else { 85.0 } + 8.0 * draw;
            let verdict = if score < 50.0 { "rough" } else { "fair" };
            text += &format!(
                "g{group}.wav,{},{},G{group:03},T{group}-{},{start}.5,{score:.3},{:.3},{verdict},true\n",
                group + 1,
                start + 1,
                start / 2,
                60.0 + 20.0 * next(),
            );
        }
    }
    text
}

#[test]
fn hundreds_of_groups_are_compared_worst_first_in_two_hundred_lines() {
    let folder = super::folder();
    std::fs::write(folder.path().join("many.csv"), many()).unwrap();
    let begun = Instant::now();
    let text = printed(
        folder.path(),
        &["compare", "many.csv", "--json", "answer.json"],
    );
    // Seconds where the tool is optimised; this build is not, and shares the machine with other tests.
    assert!(
        begun.elapsed() < Duration::from_secs(120),
        "{:?}",
        begun.elapsed()
    );
    assert!(
        text.lines().count() <= 200,
        "{} lines",
        text.lines().count()
    );
    let found = |part: &str| {
        text.find(part)
            .unwrap_or_else(|| panic!("no {part} in {text}"))
    };
    assert!(text.contains("worse are 1 (G077)"), "{text}");
    assert!(
        found("\nG077 ") <= found("\nG0"),
        "the worst group comes first: {text}"
    );
    let json = std::fs::read(folder.path().join("answer.json")).unwrap();
    let answer: serde_json::Value = serde_json::from_slice(&json).unwrap();
    assert_eq!(answer["groups"].as_array().unwrap().len(), 200);
    assert_eq!(
        answer["pairs"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|p| p["measure"] == "score")
            .count(),
        200
    );
}
