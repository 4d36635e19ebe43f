//! `fadewatch rehearse`: a scenario on paper.
//!
//! Never here: running it (that is `rehearsal`).
//! Promises: nothing is sent and nothing is stored.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::exit::Exit;
use super::paper;
use super::setting::{CommandError, show_warnings, there};
use crate::config;
use crate::rehearsal::{self, ShowMail};
use crate::reply::Lexicons;

/// What `rehearse` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  fadewatch rehearse config/scenarios/persisting-mark.toml\n  \
    fadewatch rehearse scenario.toml --show-mail | less\n  fadewatch rehearse scenario.toml --json")]
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
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let scenario = config::read_scenario(there(&self.scenario)?)?;
        show_warnings(&scenario.warnings);
        let lexicons = Lexicons::shipped();
        let read = rehearsal::reader(&lexicons);
        let text = if self.json {
            rehearsal::json_lines(&rehearsal::rehearse(&scenario.value, read))
        } else {
            let show = if self.show_mail { ShowMail::Texts } else { ShowMail::Subjects };
            rehearsal::timetable(&scenario.value, read, show)
        };
        paper::print(&text)?;
        Ok(Exit::Done.into())
    }
}
