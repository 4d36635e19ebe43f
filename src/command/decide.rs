//! `fadewatch decide`: what a clinician decides, from the command line.
//!
//! Never here: what a decision leads to.
//! Promises: only a clinician by role decides; a decision that changed nothing is not shown as
//! taken.

use std::process::ExitCode;

use clap::{Args, ValueEnum};

use super::report::{act_and_tell, site};
use super::setting::{CommandError, ConfigOption};
use super::who::{self, Act};
use crate::care::{Minutes, Reading, Site, StepChoice, Verdict};
use crate::service::acts_by_hand;

/// What a clinician may decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Decision {
    /// Take the alert up.
    Seen,
    /// Let sitting begin again.
    Resume,
    /// Keep sitting stopped; said while sitting goes on, it is a stop.
    KeepStopped,
    /// End the follow-up.
    Close,
}

/// What `decide` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    fadewatch decide A7 seen --by seating\n  \
    fadewatch decide A7 resume --step 2 --by seating\n  \
    fadewatch decide A7 keep-stopped --by seating")]
pub(super) struct DecideArgs {
    /// The client's reference.
    client: String,
    /// The decision.
    decision: Decision,
    /// The clinician who decides.
    #[arg(long, value_name = "CLINICIAN")]
    by: String,
    /// For `resume`: the step to begin again on.
    #[arg(long, value_name = "N", conflicts_with = "sit")]
    step: Option<u32>,
    /// For `resume`: the step whose sittings last so long, such as 30min.
    #[arg(long, value_name = "DURATION")]
    sit: Option<Minutes>,
    /// For `keep-stopped`: the places that it is about; may be given more than once.
    #[arg(long = "site", value_name = "SITE", value_parser = site)]
    sites: Vec<Site>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

impl DecideArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let step = self.step.map(StepChoice::Step).or(self.sit.map(StepChoice::Minutes));
        if step.is_some() && self.decision != Decision::Resume {
            let what = "--step and --sit belong to `resume`; nothing was changed";
            return Err(CommandError::BadInput(what.to_owned()));
        }
        if !self.sites.is_empty() && self.decision != Decision::KeepStopped {
            let what = "--site belongs to `keep-stopped`; nothing was changed";
            return Err(CommandError::BadInput(what.to_owned()));
        }
        let (office, store) = self.config.open()?;
        let by = who::staff(&office.clinic, &self.by, Act::Decide)?;
        let loaded = store.read_blocking(|view| who::loaded(view, &self.client))?;
        let reading = match self.decision {
            Decision::Seen => Reading::Seen,
            Decision::Resume => Reading::Resume,
            Decision::KeepStopped => Reading::KeepStopped,
            Decision::Close => Reading::Close,
        };
        let verdict = Verdict { sites: self.sites.clone(), step, ..Verdict::bare(reading) };
        let what = format!("{by} decides: {reading}");
        act_and_tell(office, &store, &loaded, &what, self.json, move |office, tx, id, now| {
            acts_by_hand::decide(office, tx, id, (&by, verdict), now)
        })
    }
}
