//! `fadewatch refit`: another fitting for a running follow-up.
//!
//! Never here: whether it is ready (`review`), what it does to sitting time (nothing: the clinician
//! decides).
//! Promises: a file with a problem changes nothing; a fit that is not ready begins only by a
//! clinician's decision.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::report::act_and_tell;
use super::setting::{CommandError, ConfigOption, now, show_warnings};
use super::who::{self, Act};
use crate::care::fitting::{FreeWords, InSpiteOf};
use crate::config::{self, Clinic};
use crate::service::refitting;

/// What `refit` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  fadewatch refit A7 fitting.toml --by seating\n\nSitting time stays \
    as it is. After a change every site is checked again; where the\nclient should begin lower, \
    decide so: `fadewatch decide`."
)]
pub(super) struct RefitArgs {
    /// The client's reference.
    client: String,
    /// The client file, or a file with `[fitting]` alone.
    file: PathBuf,
    /// Who of the clinic fitted: a clinician or an assistant.
    #[arg(long, value_name = "STAFF")]
    by: String,
    #[command(flatten)]
    decision: InSpiteOption,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

/// The option to begin on a fit that is not ready.
#[derive(Debug, Args)]
pub(super) struct InSpiteOption {
    /// Begin although the fit is not ready, for this reason; a clinician's decision.
    #[arg(long = "in-spite-of", value_name = "REASON", requires = "by")]
    reason: Option<String>,
}

impl RefitArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open()?;
        let by = who::staff(&office.clinic, &self.by, Act::Report)?;
        let decided = self.decision.decided(&office.clinic, Some(&self.by))?;
        let loaded = store.read_blocking(|view| who::loaded(view, &self.client))?;
        let today = office.calendar.date(now());
        let checked = config::read_fitting(&self.file, Some(&office.clinic), today)?;
        show_warnings(&checked.warnings);
        let file = checked.value;
        if let Some(other) = file.client.filter(|client| *client != loaded.client) {
            return Err(CommandError::BadInput(format!(
                "{} is the file of client `{other}`, not of `{}`",
                self.file.display(),
                loaded.client
            )));
        }
        let what = format!("fitted again on {}, put on file by {by}", file.fitting.date);
        act_and_tell(office, &store, &loaded, &what, self.json, move |office, tx, id, now| {
            let refitting = (by.as_str(), &file.fitting, decided.as_ref());
            refitting::refit(office, tx, id, refitting, now)
        })
    }
}

impl InSpiteOption {
    /// The decision that was given, where one was.
    pub(super) fn decided(
        &self,
        clinic: &Clinic,
        by: Option<&str>,
    ) -> Result<Option<InSpiteOf>, CommandError> {
        let Some(reason) = &self.reason else { return Ok(None) };
        let reason = FreeWords::new(reason)
            .map_err(|error| CommandError::BadInput(format!("--in-spite-of: {error}")))?;
        let by = who::staff(clinic, by.unwrap_or_default(), Act::Decide)?;
        Ok(Some(InSpiteOf { by, reason }))
    }
}
