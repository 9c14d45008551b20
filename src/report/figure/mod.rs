//! Figures as SVG: no system font is needed to make one, and the same input gives the same bytes.

mod frame;
mod palette;
mod start;

pub use frame::alone;
pub use palette::{Theme, style};
pub use start::start;

#[cfg(test)]
mod tests;
