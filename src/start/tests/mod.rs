//! Checks of the start finder against published and analytic values.

mod finder;
mod spectrum;
mod transition;
