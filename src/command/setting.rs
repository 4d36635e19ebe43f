//! What most commands begin with: the clinic file, and the data folder that it names.
//!
//! Never here: what a command then does.
//! Promises: warnings go to standard error, problems too, and end the command.

use std::path::PathBuf;

use clap::Args;
use thiserror::Error;

use crate::config::{self, Clinic, Problems};
use crate::follow_up::Instant;
use crate::notice::Languages;
use crate::reply::Lexicons;
use crate::service::{Clock, Office, ServiceError};
use crate::store::{Mode, Store, StoreError};

/// The option that names the clinic file.
#[derive(Debug, Args)]
pub(super) struct ConfigOption {
    /// The clinic file.
    #[arg(
        long = "config",
        value_name = "FILE",
        env = "FADEWATCH_CONFIG",
        default_value = "clinic.toml"
    )]
    file: PathBuf,
}

/// Why a command failed.
#[derive(Debug, Error)]
pub(super) enum CommandError {
    /// A file that a person writes cannot be used.
    #[error("{0}")]
    Problems(#[from] Problems),
    /// The store refused.
    #[error("{}", with_help(.0))]
    Store(#[from] StoreError),
    /// The service refused.
    #[error("{0}")]
    Service(#[from] ServiceError),
    /// The command was asked for something that cannot be done.
    #[error("{0}")]
    Refused(String),
    /// What was to be printed could not be.
    #[error("cannot write: {0}")]
    Output(#[from] std::io::Error),
}

fn with_help(error: &StoreError) -> String {
    let mut text = error.to_string();
    let mut source = std::error::Error::source(error);
    while let Some(cause) = source {
        text.push_str(&format!(": {cause}"));
        source = cause.source();
    }
    format!("{text}\nhint: {}", error.help())
}

impl ConfigOption {
    /// Reads the clinic file; warnings are shown.
    pub(super) fn clinic(&self) -> Result<Clinic, CommandError> {
        let checked = config::read_clinic(&self.file)?;
        if !checked.warnings.is_empty() {
            eprintln!("{}", checked.warnings);
        }
        Ok(checked.value)
    }

    /// Reads the clinic file and opens its data folder for a command that writes.
    pub(super) fn open(&self) -> Result<(Office, Store), CommandError> {
        let office = office(self.clinic()?)?;
        let store = Store::open(&office.clinic.data_folder, Mode::Command)?;
        Ok((office, store))
    }

    /// Reads the clinic file and opens its data folder for a command that only looks.
    pub(super) fn open_to_read(&self) -> Result<(Office, Store), CommandError> {
        let office = office(self.clinic()?)?;
        let store = Store::open(&office.clinic.data_folder, Mode::Reading)?;
        Ok((office, store))
    }
}

/// Sets the office of a clinic up, with the clinic's own language files where it has some.
pub(super) fn office(clinic: Clinic) -> Result<Office, CommandError> {
    let languages = Languages::shipped();
    let lexicons = Lexicons::shipped();
    Ok(Office::new(clinic, languages, lexicons)?)
}

/// The present time.
pub(super) fn now() -> Instant {
    Clock::Real.now()
}
