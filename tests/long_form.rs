//! Whether tests draw as often as it takes to quote their figures.

/// The long form is asked for: `TIPSTRIKE_LONG=1` is set.
pub fn long() -> bool {
    std::env::var_os("TIPSTRIKE_LONG").is_some()
}
