//! What most commands begin with: the clinic file, and the data folder that it names.
//!
//! Never here: what a command then does.
//! Promises: warnings go to standard error, problems too, and end the command.

use std::path::{Path, PathBuf};

use clap::Args;
use thiserror::Error;

use super::exit::Exit;
use super::paper;
use crate::config::{self, Clinic, Problems};
use crate::follow_up::Instant;
use crate::notice::{Languages, WORDING_FILE, WordingError};
use crate::reply::Lexicons;
use crate::service::{Clock, Office, ServiceError, data};
use crate::store::{Mode, Store, StoreError};

/// The option that names the clinic file.
#[derive(Debug, Args)]
pub(super) struct ConfigOption {
    /// The clinic file.
    #[arg(
        id = "config",
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
    #[error("{}", .0.rendered(paper::error_colour()))]
    Problems(#[from] Problems),
    /// The store refused.
    #[error("{}", with_help(.0))]
    Store(#[from] StoreError),
    /// The service refused.
    #[error("{}", of_service(.0))]
    Service(#[from] ServiceError),
    /// An argument cannot be used.
    #[error("{0}")]
    BadInput(String),
    /// There is no such thing.
    #[error("{0}")]
    NotFound(String),
    /// The command was asked for something that cannot be done.
    #[error("{0}")]
    Refused(String),
    /// A file cannot be written.
    #[error("cannot write {}: {source}\nhint: name a file in a folder that is there", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// The system's reason.
        source: std::io::Error,
    },
    /// What was to be printed could not be.
    #[error("cannot write: {0}")]
    Output(#[from] std::io::Error),
}

impl CommandError {
    /// How a command ends that fails in this way.
    pub(super) fn exit(&self) -> Exit {
        match self {
            Self::Problems(_) | Self::BadInput(_) => Exit::BadInput,
            Self::NotFound(_) => Exit::NotFound,
            Self::Refused(_) | Self::Service(ServiceError::Refused(_)) => Exit::Refused,
            Self::Store(error) | Self::Service(ServiceError::Store(error)) => match error {
                StoreError::Missing { .. }
                | StoreError::UnknownFollowUp { .. }
                | StoreError::UnknownPlan { .. } => Exit::NotFound,
                StoreError::DuplicateClient { .. } => Exit::Refused,
                _ => Exit::Failed,
            },
            Self::Service(_) | Self::File { .. } | Self::Output(_) => Exit::Failed,
        }
    }
}

fn of_service(error: &ServiceError) -> String {
    match error {
        ServiceError::Store(error) => with_help(error),
        ServiceError::Refused(_) => error.to_string(),
        other => with_causes(other),
    }
}

fn with_help(error: &StoreError) -> String {
    format!("{}\nhint: {}", with_causes(error), error.help())
}

fn with_causes(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut source = error.source();
    while let Some(cause) = source {
        text.push_str(&format!(": {cause}"));
        source = cause.source();
    }
    text
}

impl ConfigOption {
    /// Whether the clinic file is there.
    pub(super) fn is_there(&self) -> bool {
        self.file.exists()
    }

    /// Reads the clinic file; warnings are shown.
    pub(super) fn clinic(&self) -> Result<Clinic, CommandError> {
        if !self.file.exists() {
            return Err(CommandError::NotFound(format!(
                "there is no clinic file {}\nhint: `fadewatch setup` writes one; --config or \
                 FADEWATCH_CONFIG names another",
                self.file.display()
            )));
        }
        let checked = config::read_clinic(&self.file)?;
        show_warnings(&checked.warnings);
        Ok(checked.value)
    }

    /// Reads the clinic file and opens its data folder for a command that writes.
    pub(super) fn open(&self) -> Result<(Office, Store), CommandError> {
        let office = office(self.clinic()?)?;
        let store = data::open(&office.clinic, Mode::Command)?;
        Ok((office, store))
    }

    /// Reads the clinic file and opens its data folder for a command that only looks.
    pub(super) fn open_to_read(&self) -> Result<(Office, Store), CommandError> {
        let office = office(self.clinic()?)?;
        let store = data::open(&office.clinic, Mode::Reading)?;
        Ok((office, store))
    }
}

/// A file that a person named, where it is there.
pub(super) fn there(file: &Path) -> Result<&Path, CommandError> {
    if file.exists() {
        return Ok(file);
    }
    Err(CommandError::NotFound(format!("there is no file {}", file.display())))
}

/// Shows what is doubtful about a file that was taken.
pub(super) fn show_warnings(warnings: &Problems) {
    if !warnings.is_empty() {
        eprintln!("{}", warnings.rendered(paper::error_colour()));
    }
}

/// Sets the office of a clinic up, with the clinic's own language files where it has some.
pub(super) fn office(clinic: Clinic) -> Result<Office, CommandError> {
    let languages = languages(&clinic)?;
    let lexicons = Lexicons::shipped();
    let guide = match &clinic.review_guide {
        Some(path) => {
            let checked = config::read_review_guide(path)?;
            show_warnings(&checked.warnings);
            Some(checked.value)
        }
        None => None,
    };
    let office = Office::new(clinic, languages, lexicons)?;
    Ok(match guide {
        Some(guide) => office.with_guide(guide),
        None => office,
    })
}

/// The shipped languages, with the clinic's own wording in place of theirs or beside it: a folder
/// for each language, with its wording file in it.
fn languages(clinic: &Clinic) -> Result<Languages, CommandError> {
    let mut languages = Languages::shipped();
    let Some(folder) = &clinic.languages_folder else { return Ok(languages) };
    let unusable = |what: String| CommandError::Service(ServiceError::Languages(what));
    let entries = std::fs::read_dir(folder)
        .map_err(|error| unusable(format!("{}: {error}", folder.display())))?;
    let mut problems = Vec::new();
    for entry in entries {
        let path = entry?.path();
        let (code, file) = (path.file_name().unwrap_or_default(), path.join(WORDING_FILE));
        if !file.is_file() {
            continue;
        }
        let shown = file.display().to_string();
        let text = std::fs::read_to_string(&file)
            .map_err(|error| unusable(format!("{shown}: {error}")))?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        if let Err(found) = languages.add(&code.to_string_lossy(), &shown, text) {
            let told = |problem: &WordingError| format!("{problem}\nhint: {}", problem.help());
            problems.extend(found.iter().map(told));
        }
    }
    if problems.is_empty() { Ok(languages) } else { Err(unusable(problems.join("\n"))) }
}

/// The present time.
pub(super) fn now() -> Instant {
    Clock::Real.now()
}
