//! Where the starts are: levels, the state machine over every sample, and the instants of each start.

pub(crate) mod check;
pub(crate) mod instants;
pub(crate) mod joint;
pub(crate) mod levels;
pub(crate) mod phases;
pub(crate) mod scan;
pub(crate) mod states;
pub(crate) mod tracker;
pub(crate) mod walk;
