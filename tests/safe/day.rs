//! A day of use, slips included, leaves every input as it was.

use super::*;

/// Forty commands as a welder gives them, some with a slip.
const DAY: [&str; 40] = [
    "prep .",
    "prep . --json prep.json",
    "prep . --json job.toml",
    "inspect a.wav b.wav",
    "inspect a.wav --job . --json seen.json",
    "inspect --json a.wav b.wav",
    "inspect a.wav --job . --figure traces.svg",
    "inspect a.wav --job . --figure a.wav",
    "inspect a.wav --job . --figure traces.png",
    "measure .",
    "measure . --csv starts.csv --jsonl starts.jsonl",
    "measure . --csv starts.csv",
    "measure . --csv a.wav",
    "measure . --jsonl runs.csv",
    "measure . --figure figures",
    "measure . --figure figures --png",
    "measure --csv a.wav b.wav --job job.toml",
    "measure starts.csv --csv starts.csv",
    "measure . --why 1",
    "compare . --json answer.json",
    "compare starts.csv --json starts.csv",
    "compare starts.csv --json runs.csv",
    "compare . . --json answer.json",
    "screen . --json screen.json --csv recordings.csv",
    "screen . --json answer.json",
    "screen . --csv runs.csv",
    "screen a.wav b.wav --job job.toml --append nights.csv",
    "screen a.wav b.wav --job job.toml --append a.wav",
    "screen starts.csv --append runs.csv",
    "screen . --baseline-from starts.csv --json screen.json",
    "report . -o page.html",
    "report . -o page.html",
    "report . -o job.toml",
    "report starts.csv -o starts.csv",
    "report . -o notes.md",
    "plan --preps A,B --coupons 1,2 --starts 4 --sheet next.csv",
    "plan --preps A,B --coupons 1,2 --starts 4 --sheet runs.csv",
    "plan --spread 25 --measure start_ms --see 20",
    "demo .",
    "manual help",
];

#[test]
fn a_day_of_use_leaves_every_input_as_it_was() {
    let folder = job("file,prep\na.wav,A\nb.wav,B\n");
    std::fs::write(folder.path().join("notes.md"), "# Mine\n").unwrap();
    let inputs = ["a.wav", "b.wav", "job.toml", "runs.csv", "notes.md"];
    let hash = |name: &&str| tipstrike::bytes::sha256(&folder.path().join(name)).unwrap();
    let before: Vec<String> = inputs.iter().map(hash).collect();
    let mut refused = 0;
    for command in DAY {
        let args: Vec<&str> = command.split(' ').collect();
        let output = tipstrike(folder.path(), &args);
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(
            matches!(output.status.code(), Some(0..=2)),
            "{command}: {said}"
        );
        assert!(!said.contains("panicked"), "{command}: {said}");
        refused += usize::from(output.status.code() == Some(2));
        let now: Vec<String> = inputs.iter().map(hash).collect();
        assert_eq!(now, before, "{command}");
    }
    assert_eq!(refused, 19, "slips that were told");
    let left = names(folder.path());
    assert!(!left.iter().any(|name| name.starts_with('.')), "{left:?}");
}
