//! The binary: hands the command line to the library and turns its outcome into an exit status.
//!
//! Never here: rules, I/O, wording.

use std::process::ExitCode;

fn main() -> ExitCode {
    fadewatch::command::run()
}
