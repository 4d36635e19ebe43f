//! `fadewatch rehearse`: a scenario on paper.
//!
//! Never here: running it (that is `rehearsal`).
//! Promises: nothing is sent and nothing is stored.

use std::io::{ErrorKind, Write as _};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::config;
use crate::rehearsal::{self, ShowMail};
use crate::reply::Lexicons;

/// What `rehearse` is called with.
#[derive(Debug, Args)]
pub(super) struct Rehearse {
    /// The scenario file.
    scenario: PathBuf,
    /// Print one JSON object a line.
    #[arg(long, conflicts_with = "show_mail")]
    json: bool,
    /// Print the messages themselves, too, each at its place.
    #[arg(long)]
    show_mail: bool,
}

impl Rehearse {
    pub(super) fn run(&self) -> ExitCode {
        let scenario = match config::read_scenario(&self.scenario) {
            Ok(checked) => checked,
            Err(problems) => {
                eprintln!("{problems}");
                return ExitCode::from(2);
            }
        };
        if !scenario.warnings.is_empty() {
            eprintln!("{}", scenario.warnings);
        }
        let lexicons = Lexicons::shipped();
        let read = rehearsal::reader(&lexicons);
        let text = if self.json {
            rehearsal::json_lines(&rehearsal::rehearse(&scenario.value, read))
        } else {
            let show = if self.show_mail { ShowMail::Texts } else { ShowMail::Subjects };
            rehearsal::timetable(&scenario.value, read, show)
        };
        match std::io::stdout().lock().write_all(text.as_bytes()) {
            Ok(()) => ExitCode::SUCCESS,
            // A reader who has seen enough, such as `head`, is no failure.
            Err(error) if error.kind() == ErrorKind::BrokenPipe => ExitCode::SUCCESS,
            Err(error) => {
                eprintln!("fadewatch: cannot write: {error}");
                ExitCode::FAILURE
            }
        }
    }
}
