//! The `[logger]` block to start from.

use crate::job::logger::Logger;
use crate::recording::Fitted;
use crate::recording::inspection::channel::{Channel, Reading};

/// The block of a `[logger]` as it stands.
pub(super) fn of_logger(logger: &Logger) -> String {
    toml::to_string(&std::collections::BTreeMap::from([("logger", logger)]))
        .expect("a logger is a table")
}

/// A block to start from; with the scale of the current where it was worked out.
pub(super) fn draft(channels: &[Channel], fitted: Option<&Fitted>) -> String {
    let mut block = String::from(
        "[logger]\nmains_hz = 50                               # or 60\nelectrode_negative = \"positive\"\n",
    );
    for channel in channels {
        let Some(role) = channel.role.filter(|role| *role != "time") else {
            continue;
        };
        let place = match &channel.title {
            Some(title) => format!("column = {}", toml::Value::from(title.as_str())),
            None => format!("channel = {}", channel.channel),
        };
        let (scale, note) = scale(role, channel.reading, fitted);
        block += &format!("{role} = {{ {place}{scale} }}{note}\n");
    }
    block
}

/// Keys of the scale, and a word about them.
fn scale(role: &str, reading: Reading, fitted: Option<&Fitted>) -> (String, &'static str) {
    let (keys, note) = match (role, reading) {
        ("current", _) if fitted.is_some() => {
            let keys = fitted.map(Fitted::keys).unwrap_or_default();
            return (keys, "   # from the known loads");
        }
        ("current", Reading::FullScale) => (
            ", amps_at_full_scale = 300.0",
            "   # your own scale: inspect --known works it out",
        ),
        ("current", Reading::Volts) => (
            ", shunt = { amps = 200, millivolts = 60 }",
            "   # as your shunt's plate says",
        ),
        ("current", Reading::Bare) => (
            ", amps_per_unit = 1.0",
            "   # your own scale: inspect --known works it out",
        ),
        ("voltage", Reading::FullScale) => (", volts_at_full_scale = 120.0", "  # your own scale"),
        ("voltage", Reading::Bare) => (", volts_per_unit = 1.0", "   # your own scale"),
        _ => ("", ""),
    };
    (keys.to_owned(), note)
}
