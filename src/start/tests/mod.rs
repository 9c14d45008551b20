//! Checks of the start finder against published and analytic values.

mod spectrum;
mod transition;
