//! What the tips say about wear, in the words of the bench.

use crate::format::{counted, label, quantity, trimmed as number};
use crate::study::{WEAR_MEASURES, Wear, WearOf, WearVerdict};

/// The advice, in one or two sentences.
pub fn says(wear: &Wear) -> String {
    match wear.verdict {
        WearVerdict::Wears if wear.change_at.is_some() => goes_off(wear),
        WearVerdict::Wears => wears(wear),
        WearVerdict::NotClear => not_clear(wear),
        WearVerdict::NoSign => format!(
            "No sign of wear of {} in {} up to {:.0} starts ({}).",
            who(wear),
            label(&wear.measure),
            wear.up_to,
            resting_on(wear)
        ),
    }
}

/// The advice where there is a number to regrind at, in one line.
pub fn regrind(wear: &[Wear]) -> Option<String> {
    let told = wear.iter().filter(|w| w.at.is_some()).map(says);
    let told: Vec<String> = told.collect();
    (!told.is_empty()).then(|| told.join(" "))
}

/// Whose wear it is: "A", or "cell W2 (prep A)" where the groups are not preps.
pub fn who(wear: &Wear) -> String {
    match wear.by.as_str() {
        "prep" => wear.prep.clone(),
        by => format!("{by} {} (prep {})", wear.group, wear.prep),
    }
}

/// "6 tips", or what the answer does not speak for.
fn resting_on(wear: &Wear) -> String {
    let tips = match (wear.about, wear.tips) {
        (WearOf::Prep, tips) => counted(tips, "tip"),
        (WearOf::Tips, 1) => "about this one tip, not the grind".into(),
        (WearOf::Tips, tips) => format!("about these {tips} tips, not the grind"),
    };
    match wear.short_tips {
        0 => tips,
        short => format!("{tips}; {short} with too few starts left out"),
    }
}

fn wears(wear: &Wear) -> String {
    let (who, name) = (who(wear), label(&wear.measure));
    match (wear.at, wear.limit) {
        (Some(at), Some(limit)) if at >= 1.0 => format!(
            "Regrind {who} after about {at:.0} starts ({}{}; {}): {name} of the usual start then meets {}.",
            range(wear),
            if at > wear.up_to {
                format!(", beyond the {:.0} seen", wear.up_to)
            } else {
                String::new()
            },
            resting_on(wear),
            quantity(&wear.measure, limit)
        ),
        (Some(_), Some(limit)) => format!(
            "{who} wears, and {name} of its usual start is past {} from the first start on ({}).",
            quantity(&wear.measure, limit),
            resting_on(wear)
        ),
        _ => format!("{who} wears: {} ({}).", pace(wear), resting_on(wear)),
    }
}

/// How fast, and that the limit is far.
fn pace(wear: &Wear) -> String {
    let name = label(&wear.measure);
    if wear.slope * wear.worse_sign() <= 0.0 {
        return format!("{name} goes the worse way with use, though most starts still read alike");
    }
    let change = format!(
        "{name} changes by {} over ten starts",
        quantity(&wear.measure, 10.0 * wear.slope)
    );
    let Some(limit) = wear.limit else {
        return change;
    };
    let limit = quantity(&wear.measure, limit);
    let seen = wear.up_to;
    match wear.lo {
        Some(lo) => format!(
            "{change}, and meets {limit} far beyond the {seen:.0} starts seen, not before about {lo:.0}"
        ),
        None => format!("{change}, and meets {limit} far beyond the {seen:.0} starts seen"),
    }
}

fn goes_off(wear: &Wear) -> String {
    let (who, name) = (who(wear), label(&wear.measure));
    let last = wear.change_at.unwrap_or_default();
    let tips = resting_on(wear);
    match (wear.at, wear.limit, wear.lo.zip(wear.hi)) {
        (Some(_), Some(limit), range) => format!(
            "Regrind {who} after about {last:.0} starts ({}{tips}): it goes off at once there rather than bit by bit, {name} passing {}.",
            range.map_or(String::new(), |(lo, hi)| format!(
                "{lo:.0} to {hi:.0} in the tips seen; "
            )),
            quantity(&wear.measure, limit)
        ),
        _ => format!(
            "{who} goes off at once rather than bit by bit, after about {last:.0} starts: {name} is worse from there on ({tips})."
        ),
    }
}

fn not_clear(wear: &Wear) -> String {
    let (who, name) = (who(wear), label(&wear.measure));
    let tips = resting_on(wear);
    let worse = wear.slope * wear.worse_sign() > 0.0;
    if worse && wear.p < 1.0 - wear.level {
        // Half of one group's part, or less.
        let several = 1.5 * wear.alpha * (WEAR_MEASURES.len() as f64) < 1.0 - wear.level;
        return format!(
            "Wear of {who} in {name} is not clear yet: up to {:.0} starts it goes the worse way with p = {}, and since {} measures look at each tip{}, p under {} is asked for ({tips}).",
            wear.up_to,
            number(wear.p),
            WEAR_MEASURES.len(),
            if several {
                ", and at several groups"
            } else {
                ""
            },
            number(wear.alpha)
        );
    }
    format!(
        "Wear of {who} in {name} cannot be ruled out: it may change by as much as {} over the {:.0} starts seen, and so pass {} ({tips}). Strike more tips.",
        quantity(&wear.measure, wear.worst_slope() * wear.up_to),
        wear.up_to,
        wear.limit
            .map_or_else(|| "its limit".into(), |x| quantity(&wear.measure, x))
    )
}

/// "36 to 45 at 95 %"
fn range(wear: &Wear) -> String {
    let level = number(100.0 * wear.level);
    let lo = wear.lo.unwrap_or_default();
    match wear.hi {
        Some(hi) => format!("{lo:.0} to {hi:.0} at {level} %"),
        None => format!("{lo:.0} or more at {level} %"),
    }
}
