//! Job, sheet, electrodes, fit of prep to job, targets, score, and what the starts say of the sheet.

mod advice;
mod after;
mod between;
mod causes;
mod doc_tables;
mod docs;
mod edges;
mod electrodes;
mod ends;
mod explained;
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
