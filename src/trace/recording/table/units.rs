//! Units in the titles of a table.

use crate::recording::table::words::means_current;

/// Known units in lower case; the micro sign has two code points.
pub(super) fn unit_of(text: &str) -> Option<&'static str> {
    let units = [
        ("a", "a"),
        ("amp", "a"),
        ("amps", "a"),
        ("ampere", "a"),
        ("amperes", "a"),
        ("ma", "ma"),
        ("ka", "ka"),
        ("v", "v"),
        ("volt", "v"),
        ("volts", "v"),
        ("mv", "mv"),
        ("kv", "kv"),
        ("s", "s"),
        ("sec", "s"),
        ("second", "s"),
        ("seconds", "s"),
        ("ms", "ms"),
        ("us", "us"),
        ("µs", "us"),
        ("μs", "us"),
    ];
    let small = text.trim().to_lowercase();
    units
        .iter()
        .find(|(word, _)| *word == small)
        .map(|(_, unit)| *unit)
}

/// Splits "current_a", "Current (A)", "I [A]", "I/A", "current in mA" into name and unit. An A without brackets is a unit
/// only behind a word for a current: of "channel A" it is the channel's name.
pub(super) fn split_unit(title: &str) -> (String, Option<&'static str>) {
    let title = title.trim();
    let bare = title.trim_end_matches([')', ']']);
    let bracketed = bare.len() < title.len();
    let cut = match bracketed {
        true => bare.rfind(['(', '[']),
        false => title.rfind(['_', '/', ' ']),
    };
    if let Some(cut) = cut
        && let Some(unit) = unit_of(&bare[cut + 1..])
    {
        let name = bare[..cut].trim().trim_end_matches(" in").to_lowercase();
        let letter = bare[cut + 1..].trim().eq_ignore_ascii_case("a");
        if bracketed || !letter || means_current(&name) {
            return (name, Some(unit));
        }
    }
    (title.to_lowercase(), None)
}
