//! Units in the titles of a table.

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

/// Splits "current_a", "Current (A)", "I [A]", "I/A", "current in mA" into name and unit.
pub(super) fn split_unit(title: &str) -> (String, Option<&'static str>) {
    let title = title.trim();
    let bare = title.trim_end_matches([')', ']']);
    let cut = if bare.len() < title.len() {
        bare.rfind(['(', '['])
    } else {
        title.rfind(['_', '/', ' '])
    };
    if let Some(cut) = cut
        && let Some(unit) = unit_of(&bare[cut + 1..])
    {
        let name = bare[..cut].trim().trim_end_matches(" in").to_lowercase();
        return (name, Some(unit));
    }
    (title.to_lowercase(), None)
}
