//! A file becomes calibrated blocks of amps and volts.
//!
//! Opening surveys every sample once in fixed memory; after that only the stretches asked for are read again.

mod baseline;
mod bend;
mod calibrated;
mod cell;
mod finding;
mod fitted;
mod health;
mod idle;
mod inspection;
mod known;
mod live;
mod open;
mod pieces;
mod restore;
mod roles;
mod scale;
mod seen;
mod sight;
mod source;
mod survey;
mod table;
mod wav;

pub use calibrated::Recording;
pub use cell::{Block, Cell, Segment};
pub use finding::Finding;
pub use fitted::{Fitted, Known};
pub use inspection::{Channel, Inspection, Level, Reading, Why};
pub use live::{Live, Step};
pub use seen::{CutOff, CutShort, Gaps, Lag, Polarity, Seen};
pub use sight::Sight;
pub(crate) use sight::{OPEN_OVER_ARC, block_frames, blocks};
pub use survey::Survey;

use std::path::Path;

use crate::bytes::Bytes;
use crate::error::Result;
use crate::job::Logger;

/// Looks into a file; with a `[logger]` that has a current it is read in A and V.
///
/// # Errors
/// A file that cannot be read at all.
pub fn inspect(path: &Path, logger: &Logger) -> Result<Inspection> {
    let bytes = Bytes::file(path)?;
    let seen = inspection::inspect(&bytes, logger);
    bytes.unchanged()?;
    seen
}

/// Works out the scale of the current from one or two loads of known current.
///
/// # Errors
/// A file that cannot be read, or loads that tell no scale.
pub fn fit(path: &Path, logger: &Logger, loads: &[Known]) -> Result<Fitted> {
    let bytes = Bytes::file(path)?;
    let fitted = known::fit(&bytes, logger, loads);
    bytes.unchanged()?;
    fitted
}
