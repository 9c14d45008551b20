//! What spoils a comparison, in sentences.

use crate::format::{counted, list};
use crate::study::Warning;

/// One or two sentences on what spoils a comparison.
pub fn spoils(warning: &Warning) -> String {
    match warning {
        Warning::Nameless { starts, by } => {
            format!("{} without {by} left out.", counted(*starts, "start"))
        }
        Warning::Empty { measure, groups } => {
            format!("{measure} is empty for all starts of {}.", list(groups))
        }
        Warning::LeftOut(lost) => {
            let each = lost.iter().map(|(id, gone, n)| format!("{id} {gone} of {n}"));
            format!(
                "Starts set aside or doubtful are not alike ({}): what was left out may be what differs.",
                Vec::from_iter(each).join("; ")
            )
        }
        Warning::Column { column, values } => format!(
            "{column} is not the same in all groups ({}): it may be what makes the difference.",
            of_each(values, "not written down").join("; ")
        ),
        Warning::Loggers {
            loggers,
            gain_errors,
        } => format!(
            "The groups were recorded with different loggers ({}): a difference of current or voltage has the gain errors of both in it.{}",
            of_each(loggers, "not known").join(" / "),
            by_calibration(gain_errors)
        ),
        Warning::Amps { low, high } => format!(
            "The groups ran at different amps ({} {:.0} A, {} {:.0} A): starts change with the amps.",
            low.0, low.1, high.0, high.1
        ),
        Warning::Order { first, last } => format!(
            "All or nearly all starts of {first} came before those of {last}: whatever changed in between (heat, gas, hand) counts as a difference between them. Mix the order next time (tipstrike plan writes one)."
        ),
        Warning::Sheets(one, two) => format!(
            "{one} and {two} come from different sheets without dates, so nothing says that they were struck in turn: whatever changed in between counts as a difference between them."
        ),
        Warning::UnequalTips { few, many, most } => format!(
            "{few} has 3 tips and {many} {most}: if tips of {few} differ more than those of {many}, equal grinds are told apart in about 8 of 100. Equal numbers of tips are safer."
        ),
        Warning::Wear { fresh, worn } => format!(
            "The tips of {worn} had struck more arcs since the regrind than those of {fresh}: wear counts as a difference between them."
        ),
        Warning::Coupons { shared: 0, .. } => {
            "The groups share no coupon: a difference between the coupons counts as one between them.".into()
        }
        Warning::Coupons { shared, all } => format!(
            "Only {shared} of {all} coupons carry starts of every group; a pair is compared on the coupons it shares."
        ),
        Warning::Targets => {
            "The groups were scored against different targets, so their scores are not on one scale: compare start_ms or another measure (--measure start_ms), or give all the same [targets].".into()
        }
        Warning::Miscounted(miscount) => miscount.to_string(),
    }
}

/// "A: x, y" for each group; `none` where it has nothing.
fn of_each(values: &[(String, Vec<String>)], none: &str) -> Vec<String> {
    let words = |(id, values): &(String, Vec<String>)| match values.is_empty() {
        true => format!("{id}: {none}"),
        false => format!("{id}: {}", list(values)),
    };
    values.iter().map(words).collect()
}

fn by_calibration(gain_errors: &[(String, f64)]) -> String {
    if gain_errors.is_empty() {
        return String::new();
    }
    let sizes = gain_errors.iter();
    let sizes = sizes.map(|(measure, size)| format!("{measure} by {size:.3}"));
    format!(
        " By calibration alone (k = 2) it can shift {}; the interval of the difference does not hold that.",
        list(&Vec::from_iter(sizes))
    )
}
