//! The pipeline over many recordings: jobs and folders become rows; starts tables are written and read.

pub mod cache;
mod folder;
pub mod gather;
pub mod live;
pub mod nights;
pub mod table;
