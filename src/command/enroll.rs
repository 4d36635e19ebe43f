//! `fadewatch enroll`: a client's follow-up begins.
//!
//! Never here: reading client files (`config`), the first entries (`service::enrolling`).
//! Promises: a client file with a problem enrols nobody.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use super::setting::{CommandError, ConfigOption, now};
use crate::config;
use crate::service::enrolling;

/// What `enroll` is called with.
#[derive(Debug, Args)]
pub(super) struct EnrollArgs {
    /// The client file.
    client: PathBuf,
    #[command(flatten)]
    config: ConfigOption,
}

impl EnrollArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (office, store) = self.config.open()?;
        let now = now();
        let today = office.calendar.date(now);
        let checked = config::read_client(&self.client, &office.clinic, today)?;
        if !checked.warnings.is_empty() {
            eprintln!("{}", checked.warnings);
        }
        let client = checked.value;
        let begins = client.begins;
        let (reference, risk) = (client.reference.clone(), client.risk.clone());
        let enrolled = store.write_blocking(move |tx| {
            enrolling::enroll(&office, tx, &client, "command line", now)
        })?;
        store.close();
        println!(
            "{reference} is enrolled at risk level {risk} on plan version {}; the follow-up \
             begins on {begins}.",
            enrolled.plan.short()
        );
        Ok(ExitCode::SUCCESS)
    }
}
