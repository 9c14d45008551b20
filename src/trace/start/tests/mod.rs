//! Checks of the start finder against published and analytic values.

// Values of tables stand as they are printed there.
#![allow(clippy::approx_constant)]

mod finder;
mod one_sided;
mod skew;
mod spectrum;
mod transition;
