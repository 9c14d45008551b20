//! Numbers that cannot be meant are refused.

use super::*;

#[test]
fn numbers_past_every_welding_source_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let rows: String = (0..400)
        .map(|k| format!("{:.4},{}\n", f64::from(k) * 1e-3, 1e308))
        .collect();
    std::fs::write(
        folder.path().join("huge.csv"),
        format!("time_s,current_a\n{rows}"),
    )
    .unwrap();
    says(
        &tipstrike(folder.path(), &["measure", "huge.csv"]),
        3,
        &["huge.csv", "past every welding source"],
    );
}

#[test]
fn a_mains_frequency_that_is_none_is_refused() {
    let folder = job_with("job.toml", "mains_hz = 60", "mains_hz = 0.001");
    says(
        &tipstrike(folder.path(), &["measure", "job.toml"]),
        3,
        &["mains_hz"],
    );
}

#[test]
fn an_offset_or_a_corner_that_is_none_is_refused_with_its_range() {
    for (to, words) in [
        (
            "high_pass_hz = 50000.0",
            ["[logger]", "high_pass_hz = 50000", "0.001 to 1000"],
        ),
        (
            "high_pass_hz = 1e-9",
            ["[logger]", "high_pass_hz = 0.000000001", "0.001 to 1000"],
        ),
    ] {
        let folder = job_with("job.toml", "mains_hz = 60", &format!("mains_hz = 60\n{to}"));
        says(
            &tipstrike(folder.path(), &["measure", "job.toml"]),
            3,
            &words,
        );
    }
    for offset in ["nan", "inf", "1e9"] {
        let to = format!("channel = 1, offset = {offset}");
        let folder = job_with("job.toml", "channel = 1", &to);
        let words = ["[logger] current", "offset = ", "-1000000 to 1000000"];
        says(
            &tipstrike(folder.path(), &["measure", "job.toml"]),
            3,
            &words,
        );
    }
}

#[test]
fn numbers_that_mean_nothing_are_refused() {
    let job = samples().join("job.toml").display().to_string();
    let folder = tempfile::tempdir().unwrap();
    for args in [
        &["compare", &job, "--cold-after", "nan"][..],
        &["compare", &job, "--cold-after", "-1"],
        &["compare", &job, "--level", "inf"],
        &["compare", &job, "--level", "1"],
        &["compare", &job, "--margin", "score=nan"],
        &["screen", &job, "--sampling", "nan"],
        &["screen", &job, "--sampling", "2.5", "--lot", "0"],
        &["screen", &job, "--regrind-at", "score=inf"],
        &["plan", "--spread", "inf", "--see", "1"],
        &["plan", "--spread", "1", "--see", "nan"],
        &["plan", "--rates", "nan,2"],
        &["plan", "--rough-under", "nan"],
        &["plan", "--rough-under", "1", "--allowed", "99999999999"],
        &[
            "plan",
            "--preps",
            "A,B",
            "--coupons",
            "1",
            "--starts",
            "99999999999",
        ],
        &[
            "plan",
            "--preps",
            "A,B",
            "--coupons",
            "1",
            "--starts",
            "100000",
            "--per-tip",
            "1",
        ],
    ] {
        let output = tipstrike(folder.path(), args);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{args:?}: {said}");
    }
}
