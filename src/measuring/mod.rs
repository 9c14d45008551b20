//! The pipeline over many recordings: turns jobs and folders into rows, and reads and writes starts tables.

pub mod cache;
pub mod gather;
pub mod live;
mod part;
pub mod table;
