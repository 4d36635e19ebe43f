//! `fadewatch demo`: the service at work in an invented clinic.
//!
//! Never here: the demonstration itself (`rehearsal::demo`).
//! Promises: needs no settings, no network and no mail server; everything stays in one folder,
//! which is kept.

use std::io;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use clap::Args;
use serde::Serialize;
use tracing_subscriber::EnvFilter;

use super::paper::{colour, error_colour, print_json};
use crate::config::Colour;
use crate::rehearsal::demo::{Demo, DemoError};

/// What `demo` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  fadewatch demo\n  fadewatch demo --folder demo --seconds 0\n  \
    fadewatch demo --seconds 0 --board 8470"
)]
pub(super) struct DemoArgs {
    /// The folder to work in: empty or new. Without it, a new one among the temporary files.
    #[arg(long, value_name = "DIR")]
    folder: Option<PathBuf>,
    /// How many seconds to take, so that you can read along; 0 goes as fast as the machine can.
    #[arg(long, value_name = "SECONDS", default_value_t = 40, value_parser = clap::value_parser!(u64).range(..=3600))]
    seconds: u64,
    /// Open the board on this port of this machine, with links to sign in, and stay.
    #[arg(long, value_name = "PORT", value_parser = clap::value_parser!(u16).range(1..))]
    board: Option<u16>,
    /// Print JSON: where mails, journal and data lie. What happens is told on standard error.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct DemoJson {
    folder: PathBuf,
    clinic_file: PathBuf,
    data: PathBuf,
}

impl DemoArgs {
    pub(super) fn run(&self) -> Result<ExitCode, DemoError> {
        let filter =
            EnvFilter::try_from_env("FADEWATCH_LOG").unwrap_or_else(|_| EnvFilter::new("warn"));
        tracing_subscriber::fmt()
            .with_env_filter(filter)
            .with_target(false)
            .with_ansi(error_colour() == Colour::Terminal)
            .with_writer(io::stderr)
            .init();
        let folder = match &self.folder {
            Some(folder) => folder.clone(),
            None => kept_folder()?,
        };
        let demo = Demo {
            folder: folder.clone(),
            pace: Duration::from_secs(self.seconds),
            colour: colour() == Colour::Terminal,
            board: self.board,
        };
        if self.json {
            demo.run(&mut io::stderr())?;
            print_json(&DemoJson {
                clinic_file: folder.join("clinic.toml"),
                data: folder.join("data"),
                folder,
            })
            .map_err(|failed| DemoError::Output(io::Error::other(failed.to_string())))?;
        } else {
            demo.run(&mut io::stdout())?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

/// A new folder among the temporary files, which stays when the process ends.
fn kept_folder() -> Result<PathBuf, DemoError> {
    tempfile::Builder::new()
        .prefix("fadewatch-demo-")
        .tempdir()
        .map(tempfile::TempDir::keep)
        .map_err(|source| DemoError::Folder { path: std::env::temp_dir(), source })
}
