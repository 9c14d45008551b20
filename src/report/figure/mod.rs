//! Figures as SVG. No system fonts are needed, and the same input gives the same bytes.

mod agreement;
mod control;
mod cycle;
mod every;
mod frame;
mod intervals;
mod marks;
mod overlay;
mod palette;
mod recording;
mod residual;
mod start;
mod tip;
mod wear;

pub use agreement::agreement;
pub use control::{ControlScale, control, starts};
pub use cycle::cycle;
pub use every::{Block, Difference, Dot, EveryStart, OnTip, every_start};
pub use frame::{SVG, alone};
pub use intervals::{Item, intervals};
pub use overlay::{Together, overlay, strike_window};
pub use palette::{Theme, colours, style};
pub use recording::recording;
pub use residual::{scatter, spectrum};
pub use start::start;
pub use tip::tip;
pub use wear::wear;

/// Of more points than this a figure shows every n-th: no eye tells more apart, and a page of a million stays small.
const POINTS: usize = 4000;

/// Of this many points, one in how many is drawn.
pub fn one_in(points: usize) -> usize {
    points.div_ceil(POINTS).max(1)
}

#[cfg(test)]
mod read_back_tests;
#[cfg(test)]
mod tests;
