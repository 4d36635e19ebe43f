//! `fadewatch enroll`: a client's follow-up begins.
//!
//! Never here: reading client files (`config`), the first entries (`service::enrolling`).
//! Promises: a client file with a problem enrols nobody.

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use clap::Args;

use super::exit::Exit;
use super::outcome;
use super::paper;
use super::refit::InSpiteOption;
use super::setting::{CommandError, ConfigOption, now, show_warnings, there};
use super::standing::Stand;
use super::who::{self, Act};
use crate::config;
use crate::service::enrolling;

/// What `enroll` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch enroll client-example.toml --by desk")]
pub(super) struct EnrollArgs {
    /// The client file.
    client: PathBuf,
    /// Who of the clinic enrols: a clinician or an assistant.
    #[arg(long, value_name = "STAFF")]
    by: Option<String>,
    #[command(flatten)]
    decision: InSpiteOption,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

impl EnrollArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open()?;
        let by = match &self.by {
            Some(by) => who::staff(&office.clinic, by, Act::Report)?.to_string(),
            None => "command line".to_owned(),
        };
        let decided = self.decision.decided(&office.clinic, self.by.as_deref())?;
        let now = now();
        let today = office.calendar.date(now);
        let checked = config::read_client(there(&self.client)?, &office.clinic, today)?;
        show_warnings(&checked.warnings);
        let client = checked.value;
        if decided.is_some() && client.fitting.is_none() {
            let what = "--in-spite-of: the client file has no `[fitting]` to decide about";
            return Err(CommandError::BadInput(what.to_owned()));
        }
        let begins = client.begins;
        let (reference, risk) = (client.reference.clone(), client.risk.clone());
        let office = Arc::new(office);
        let working = Arc::clone(&office);
        let enrolled = store.write_blocking(move |tx| {
            let by = (by.as_str(), decided.as_ref());
            enrolling::enroll_in_spite_of(&working, tx, &client, by, now)
        })?;
        if self.json {
            let follow_up = enrolled.follow_up;
            let stand = store.read_blocking(|view| Stand::load(&office, view, follow_up, now))?;
            paper::print_json(&stand.json())?;
        } else {
            let version = enrolled.plan.short();
            paper::print(&format!(
                "{reference} is enrolled at risk level {risk} on plan version {version}; the \
                 follow-up begins on {begins}.\n"
            ))?;
        }
        outcome::warn_if_away(&store, now)?;
        store.close();
        Ok(Exit::Done.into())
    }
}
