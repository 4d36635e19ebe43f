//! The command line.

use std::process::ExitCode;

/// Runs the command that the process was called with.
pub fn run() -> ExitCode {
    ExitCode::SUCCESS
}
