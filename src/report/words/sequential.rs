//! The sequential comparison, in the words of the bench.

use crate::format::{counted, quantity, trimmed as number};
use crate::study::{PairVerdict, WhileStriking};

/// Whether one may stop, and what the tips say so far.
pub fn says(watch: &WhileStriking) -> String {
    let WhileStriking { a, b, .. } = watch;
    let tips = format!(
        "{} of {a} and {} of {b}",
        counted(watch.tips_a, "tip"),
        watch.tips_b
    );
    let seen = format!("{}; {}", range(watch), evidence(watch));
    match watch.verdict {
        PairVerdict::ABetter => {
            format!("{a} starts better than {b}, and you may stop: after {tips} {seen}.")
        }
        PairVerdict::BBetter => {
            format!("{b} starts better than {a}, and you may stop: after {tips} {seen}.")
        }
        _ if watch.tips_a.min(watch.tips_b) < 2 => format!(
            "Keep striking, and grind anew: after {tips} nothing can be said of the grinds, for one tip of a grind does not tell how its tips differ."
        ),
        _ => format!("Keep striking: after {tips} {seen}."),
    }
}

fn range(watch: &WhileStriking) -> String {
    let WhileStriking { a, b, .. } = watch;
    match (watch.score_lo, watch.score_hi) {
        (Some(lo), Some(hi)) => format!(
            "mean score of {b} less that of {a} lies between {} and {}",
            number(lo),
            quantity("score", hi)
        ),
        _ => "they bound the difference in score nowhere yet".into(),
    }
}

fn evidence(watch: &WhileStriking) -> String {
    let strength = |e: f64| match e {
        huge if huge > 1e6 => "over a million".into(),
        some => number(some),
    };
    format!(
        "the scores speak {} to 1 for a difference, the rough starts {} to 1 ({} to 1 is needed)",
        strength(watch.score_e),
        strength(watch.rough_e),
        number(watch.e_needed)
    )
}
