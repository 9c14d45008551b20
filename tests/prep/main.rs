//! Job, sheet, electrodes, fit of prep to job, targets and score.

mod docs;
mod edges;
mod electrodes;
mod ends;
mod fit;
mod hostile;
mod job;
mod score;
mod sheet;
mod verb;
mod words;
