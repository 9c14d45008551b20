//! What must hold of any input, one function a kind of input; a panic says that it does not.
//!
//! The fuzz targets call these, and so does tests/found.rs, which replays seeds and findings.

mod detect;
mod job;
mod live;
mod recording;
mod rows;
mod sheet;
mod starts;
mod workbench;

pub use detect::detect;
pub use job::job;
pub use live::live;
pub use recording::{table, wav};
pub use sheet::sheet;
pub use starts::starts;

/// Holds what must hold for any bytes, or panics.
pub type Target = fn(&[u8]);

/// Every target by its name.
pub const TARGETS: [(&str, Target); 7] = [
    ("wav", wav),
    ("table", table),
    ("job", job),
    ("sheet", sheet),
    ("starts", starts),
    ("detect", detect),
    ("live", live),
];
