//! Any bytes as a starts table.

use tipstrike::measuring::table;

use super::{rows, workbench};

/// Refused with file and line, or rows that stay the same when written and read, and that can be asked about.
pub fn starts(bytes: &[u8]) {
    let path = workbench::file("fuzz-starts", bytes);
    match table::read(&path) {
        Err(error) => workbench::says_where(&error, &["fuzz-starts"]),
        Ok(found) => {
            rows::written_is_read(&found);
            rows::answers_hold(&found);
        }
    }
}
