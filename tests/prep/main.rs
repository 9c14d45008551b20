//! Job, sheet, electrodes, fit of prep to job, targets and score.

mod advice;
mod after;
mod docs;
mod edges;
mod electrodes;
mod ends;
mod fit;
mod foreman;
mod hostile;
mod job;
mod limits;
mod score;
mod sheet;
mod tables;
mod verb;
mod words;
