//! The command line.
//!
//! Never here: what a command does; each has its own file.
//! Promises: every failure is told in words and with an exit status that is not zero.

use std::process::ExitCode;

use clap::{Parser, Subcommand};

mod read;

/// Runs the skin-check follow-up after a pressure-off-loading seat has been fitted.
#[derive(Parser, Debug)]
#[command(version, about)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand, Debug)]
enum Command {
    /// Reads a reply from standard input and shows how it is understood, and why.
    Read(read::ReadArgs),
}

/// Runs the command that the process was called with.
pub fn run() -> ExitCode {
    let outcome = match Cli::parse().command {
        Command::Read(args) => read::run(&args),
    };
    match outcome {
        Ok(code) => code,
        Err(error) => {
            eprintln!("fadewatch: {error}");
            ExitCode::FAILURE
        }
    }
}
