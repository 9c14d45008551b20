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

#[cfg(test)]
mod read_back_tests;
#[cfg(test)]
mod tests;
