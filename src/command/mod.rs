//! The command line: what each command is called with, and what it returns to the shell.
//!
//! Never here: rules, SQL, mail; what a command does (each has its own file).
//! Promises: every command says what it did; a failure says what, where and what to do, and shows
//! in the exit status.

mod enroll;
mod read;
mod rehearse;
mod serve;
mod setting;
mod simulate;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Runs the skin-check follow-up after a pressure-off-loading seat has been fitted.
///
/// Not a medical device and no substitute for clinical judgement; not an emergency service.
#[derive(Debug, Parser)]
#[command(name = "fadewatch", version)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Run the service.
    Serve(serve::ServeArgs),
    /// Begin the follow-up of a client.
    Enroll(enroll::EnrollArgs),
    /// Run a scenario on paper: what would be asked, of whom, when, and what would follow.
    Rehearse(rehearse::Rehearse),
    /// Run the whole service on paper against invented people, mail servers and faults, many times.
    Simulate(simulate::SimulateArgs),
    /// Read a reply from standard input and show how it is understood, and why.
    Read(read::ReadArgs),
}

/// Runs the command that the process was called with.
pub fn run() -> ExitCode {
    let outcome = match Cli::parse().command {
        Command::Serve(serve) => serve.run().map_err(|failed| failed.to_string()),
        Command::Enroll(enroll) => enroll.run().map_err(|failed| failed.to_string()),
        Command::Rehearse(rehearse) => return rehearse.run(),
        Command::Simulate(simulate) => return simulate.run(),
        Command::Read(args) => read::run(&args).map_err(|failed| failed.to_string()),
    };
    match outcome {
        Ok(code) => code,
        Err(problem) => {
            eprintln!("fadewatch: {problem}");
            ExitCode::FAILURE
        }
    }
}
