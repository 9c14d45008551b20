//! The pipeline over many recordings: turns jobs and folders into rows, and reads and writes starts tables.

pub mod cache;
mod folder;
pub mod gather;
pub mod live;
pub mod nights;
mod part;
pub mod table;
mod tip_age;
