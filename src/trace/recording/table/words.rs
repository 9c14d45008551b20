//! What titles and units of columns mean.

/// Titles that mean a current, in lower case and without units.
pub(crate) const CURRENT_WORDS: [&str; 9] = [
    "current",
    "i",
    "amps",
    "amp",
    "amperage",
    "welding current",
    "arc current",
    "strom",
    "courant",
];
/// Titles that mean a voltage, in lower case and without units.
pub(crate) const VOLTAGE_WORDS: [&str; 9] = [
    "voltage",
    "u",
    "v",
    "volts",
    "volt",
    "welding voltage",
    "arc voltage",
    "spannung",
    "tension",
];
/// Titles that mean a time, in lower case and without units.
pub(crate) const TIME_WORDS: [&str; 9] = [
    "time",
    "t",
    "timestamp",
    "date/time",
    "datetime",
    "elapsed",
    "zeit",
    "temps",
    "time of day",
];

/// Names that mean a current only before an A.
const BEFORE_AMPS: [&str; 4] = ["arc", "weld", "welding", "clamp"];

/// Whether a name, in lower case, means a current, so that an A behind it is the unit: it is a word for it, or ends in one
/// ("primary_current").
pub(crate) fn means_current(name: &str) -> bool {
    let name = name.replace('_', " ");
    let ends = |word: &str| {
        let rest = name.strip_suffix(word);
        rest.is_some_and(|rest| rest.is_empty() || rest.ends_with(' '))
    };
    CURRENT_WORDS
        .iter()
        .chain(&BEFORE_AMPS)
        .any(|word| ends(word))
}
