//! The starts table, written and read: CSV that a spreadsheet may open, JSON Lines, and Parquet; one start a row.
//!
//! The columns stand in one fixed order (see [`columns`]), then the other columns of the run sheet, sorted.
//! What is not measurable is empty in CSV and `null` elsewhere. Numbers carry all their digits, so a table
//! written and read again gives the same rows. An empty sheet cell is the same as none.
//! A sheet column that bears the name of a fixed column is written with `sheet_` before its name.

mod cell;
mod columns;
mod csv;
mod jsonl;
#[cfg_attr(not(feature = "parquet"), path = "no_parquet.rs")]
mod parquet;
mod partition;
mod read;
mod room;
mod sheet_cells;
mod write;

pub use columns::{Wanted, columns};
pub use partition::{add as add_parquet, files as parquet_files, is_partitioned, parted_by};
pub use read::{is_table, read, read_files, read_wanted};
pub use write::{CSV, CsvTable, JSON_LINES, write_csv, write_jsonl};

#[cfg(test)]
mod tests;
