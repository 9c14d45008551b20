//! The `tipstrike` command: parse, run, print the error chain, return the exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    tipstrike::cli::main()
}
