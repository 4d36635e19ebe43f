//! `fadewatch pause` and `fadewatch unpause`: hospital stays, holidays.
//!
//! Never here: what a pause does.
//! Promises: whoever may report may pause; only a clinician ends a pause.

use std::process::ExitCode;

use clap::{Args, ValueEnum};

use super::report::act_and_tell;
use super::said_by::SaidBy;
use super::setting::{CommandError, ConfigOption};
use super::who::{self, Act};
use crate::follow_up::{PauseReason, StepNumber};
use crate::service::acts_by_hand;

/// Why.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Why {
    /// The client is in hospital.
    Hospital,
    /// A holiday.
    Holiday,
    /// Any other reason.
    Other,
}

/// What `pause` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  fadewatch pause A7 --why hospital --by desk\n\nThe contacts are \
    told. A mark that somebody reports is taken all the same.\nA stop, and a mark that is not \
    settled, cannot be paused away."
)]
pub(super) struct PauseArgs {
    /// The client's reference.
    client: String,
    /// Why.
    #[arg(long, default_value = "other")]
    why: Why,
    #[command(flatten)]
    said: SaidBy,
}

/// What `unpause` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  fadewatch unpause A7 --step 1 --by seating\n\nWithout --step it \
    goes on where the client was. After a long pause that may be\ntoo much: the clinician chooses. \
    The run starts again."
)]
pub(super) struct UnpauseArgs {
    /// The client's reference.
    client: String,
    /// The clinician who says so.
    #[arg(long, value_name = "CLINICIAN")]
    by: String,
    /// The step to go on at.
    #[arg(long, value_name = "N")]
    step: Option<u32>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

impl PauseArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.said.config.open()?;
        let by = who::staff(&office.clinic, &self.said.by, Act::Report)?;
        let loaded = store.read_blocking(|view| who::loaded(view, &self.client))?;
        let why = match self.why {
            Why::Hospital => PauseReason::Hospital,
            Why::Holiday => PauseReason::Holiday,
            Why::Other => PauseReason::Other,
        };
        let what = format!("paused by {by}");
        act_and_tell(office, &store, &loaded, &what, self.said.json, move |office, tx, id, now| {
            acts_by_hand::pause(office, tx, id, (&by, why), now)
        })
    }
}

impl UnpauseArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open()?;
        let by = who::staff(&office.clinic, &self.by, Act::Decide)?;
        let loaded = store.read_blocking(|view| who::loaded(view, &self.client))?;
        let step = self.step.map(StepNumber::new);
        let what = format!("the pause is ended by {by}");
        act_and_tell(office, &store, &loaded, &what, self.json, move |office, tx, id, now| {
            acts_by_hand::unpause(office, tx, id, (&by, step), now)
        })
    }
}
