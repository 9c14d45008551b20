//! Published tables as data, each under its own name, because they disagree (docs/electrodes.md).

pub mod current;
pub mod gas;
pub mod tip;
pub mod work;

pub use current::*;
pub use gas::*;
pub use tip::*;
pub use work::*;

/// How a fact is cited that welders know and no document was found for.
pub const PRACTICE: &str = "common practice, no source";

/// How one of this project's own limits is cited.
pub const OWN: &str = "the limit is this project's own";

/// Whether a range holds a value.
pub fn holds(range: (f64, f64), value: f64) -> bool {
    (range.0..=range.1).contains(&value)
}
