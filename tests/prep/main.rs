//! Job, sheet, electrodes, fit of prep to job, targets and score.

mod docs;
mod electrodes;
mod fit;
mod hostile;
mod job;
mod score;
mod verb;
mod words;
