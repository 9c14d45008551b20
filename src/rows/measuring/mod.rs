//! The pipeline over many recordings: turns jobs and folders into rows, and reads and writes starts tables.

pub mod begin;
pub mod cache;
mod content;
mod dates;
mod folder;
pub mod gather;
pub mod live;
mod named;
pub mod nights;
mod options;
mod part;
pub mod session;
mod set;
mod store;
pub mod table;
mod tip_age;
mod twice;

pub(crate) use dates::DATE_FROM;
