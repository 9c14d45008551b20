//! What is measured of a start: one file a matter.

pub(crate) mod ac;
pub(crate) mod bench;
pub(crate) mod discharge;
mod empty;
pub(crate) mod energy;
pub(crate) mod evidence;
pub(crate) mod gaps;
pub(crate) mod hidden_rise;
pub(crate) mod hum;
pub(crate) mod lit;
pub(crate) mod onset;
pub(crate) mod preview;
pub(crate) mod pulse;
pub(crate) mod ripple;
pub(crate) mod settle;
pub(crate) mod skew;
pub(crate) mod spectrum;
pub(crate) mod spikes;
pub(crate) mod steps;
pub(crate) mod transition;
pub(crate) mod wander;
mod wandering;
