//! The binary: hands the command line to the library and turns its outcome into an exit status.
//!
//! Never here: rules, I/O, wording.

use std::process::ExitCode;

/// An act allocates thousands of small pieces, which took a fifth of its time in libc's allocator.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    fadewatch::command::run()
}
