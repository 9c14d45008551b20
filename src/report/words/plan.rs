//! Plans, in the words of the bench.

use crate::format::{counted, label, quantity, trimmed as number};
use crate::study::plan::{Asked, LimitPlan, RatesPlan, ShareFrom, ShiftPlan, USUAL_SHARE};

/// What to grind and strike to see a difference.
pub fn shift(plan: &ShiftPlan) -> String {
    let asked = &plan.asked;
    format!(
        "{}: a difference of {} in {} then shows in 8 comparisons of 10, and {} of 100 comparisons of equal preps find one by mistake.{} {}{}",
        grind(plan.tips, asked),
        quantity(&plan.measure, plan.see),
        label(&plan.measure),
        number(100.0 * (1.0 - asked.level)),
        price(asked),
        resting_on(plan),
        stages(plan.tips, asked)
    )
}

/// What to grind and strike to tell two rates apart.
pub fn rates(plan: &RatesPlan) -> String {
    let asked = &plan.asked;
    format!(
        "{}: {} rough starts in 100 are then told from {} in {:.0} comparisons of 100, where {} of the variance lies between tips (made-up comparisons, judged as compare judges).{}{}",
        grind(plan.tips, asked),
        number(100.0 * plan.first),
        number(100.0 * plan.second),
        100.0 * plan.power,
        number(plan.share),
        price(asked),
        stages(plan.tips, asked)
    )
}

/// How many starts show a low rate.
pub fn limit(plan: &LimitPlan) -> String {
    let rough = match plan.allowed {
        0 => "none of them rough".to_string(),
        n => format!("no more than {n} of them rough"),
    };
    format!(
        "{} starts with {rough} show, at {} % confidence, fewer than {} rough in 100. Spread them over several tips: starts on one tip speak for that tip.",
        plan.starts,
        number(100.0 * plan.level),
        number(100.0 * plan.limit)
    )
}

fn grind(tips: u64, asked: &Asked) -> String {
    format!(
        "Grind each prep anew {tips} times and strike {} on each tip ({} starts of each prep)",
        counted(asked.per_tip as usize, "start"),
        tips * asked.per_tip
    )
}

fn price(asked: &Asked) -> String {
    match asked.pairs() {
        1 => String::new(),
        pairs => format!(
            " That has the price of {pairs} pairs in it ({} preps, Holm).",
            asked.preps
        ),
    }
}

fn resting_on(plan: &ShiftPlan) -> String {
    let (lo, hi) = (plan.tips_lo, plan.tips_hi);
    match (plan.share_from, plan.share) {
        (
            ShareFrom::Pilot {
                tips,
                lo: Some(from),
                hi: Some(to),
            },
            Some(share),
        ) => format!(
            "In the pilot's {tips} tips {} of the variance lies between tips ({} to {} at 80 %); so few tips tell it roughly: {lo} to {hi} of each may be what it takes, and the number given is enough in 80 of 100.",
            number(share),
            number(from),
            number(to)
        ),
        (ShareFrom::Pilot { tips, .. }, _) => format!(
            "The pilot's {tips} tips tell the spread roughly: {lo} to {hi} of each may be what it takes, and the number given is enough in 80 of 100."
        ),
        (ShareFrom::Stated, share) => format!(
            "This holds where {} of the variance lies between tips.",
            number(share.unwrap_or_default())
        ),
        (ShareFrom::Usual, _) => format!(
            "This takes {USUAL_SHARE} of the variance to lie between tips (a guess without a source: give --share, or a pilot); it would be {lo} if tips did not differ, and {hi} at one half."
        ),
    }
}

fn stages(tips: u64, asked: &Asked) -> String {
    if !asked.two_stage {
        return String::new();
    }
    format!(
        " Two stages: compare with --level {} after {} of each prep; if that is not enough, strike the rest and compare all of them at the same level. Both looks together err in 5 of 100.",
        crate::study::plan::STAGE_LEVEL,
        counted(tips.div_ceil(2) as usize, "tip")
    )
}
