//! `fadewatch backup` and `fadewatch restore`: copies of the data, proof that one can be used, and
//! putting one on a database server.
//!
//! Never here: when backups are made; putting a copy in place of the data in a folder (a person does
//! that, with the service stopped).
//! Promises: a copy is whole and checked before it has its name; checking a copy changes nothing; a
//! copy is never laid over what is kept.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use serde::Serialize;

use super::exit::Exit;
use super::paper;
use super::progress::Progress;
use super::setting::{CommandError, ConfigOption};
use super::who;
use crate::service::backing_up::{self, CopyChecked};
use crate::service::{Clock, data};
use crate::store::Mode;

/// What `backup` is called with.
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  fadewatch backup /backups/fadewatch-$(date +%F).db")]
pub(super) struct BackupArgs {
    /// The file to make; it must not exist yet.
    file: PathBuf,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

/// What `restore` is called with.
#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  fadewatch restore --check /backups/fadewatch-2026-03-06.db\n\nTo \
        restore: stop the service, move the data folder aside, make it anew with\nthe copy in it \
        under the name fadewatch.db, start the service.\n\nOn an empty database server ([store]), also to move there from a folder:\n  \
        fadewatch restore --load /backups/fadewatch-2026-03-06.db"
)]
pub(super) struct RestoreArgs {
    /// The copy to check: is it whole, untouched, and does its record lead to what it says?
    #[arg(long, value_name = "FILE", required_unless_present = "load")]
    check: Option<PathBuf>,
    /// The copy to check and then to put on the database server that the clinic file names, which
    /// must be empty.
    #[arg(long, value_name = "FILE", conflicts_with = "check")]
    load: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    config: ConfigOption,
}

#[derive(Serialize)]
struct BackupJson {
    file: PathBuf,
    bytes: u64,
    follow_ups: usize,
}

#[derive(Serialize)]
struct Checked {
    usable: bool,
    follow_ups: usize,
    entries: u64,
    findings: Vec<String>,
}

impl BackupArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let (_, store) = self.config.open_to_read()?;
        let shown = self.file.display();
        if self.file.exists() {
            return Err(CommandError::Refused(format!(
                "{shown} exists already; nothing was changed\nhint: a backup never overwrites; \
                 name a new file"
            )));
        }
        let progress = Progress::of("copying the data and checking the copy");
        store.backup(&self.file)?;
        drop(progress);
        let bytes = std::fs::metadata(&self.file)?.len();
        let follow_ups = store.read_blocking(who::all)?.len();
        if self.json {
            paper::print_json(&BackupJson { file: self.file.clone(), bytes, follow_ups })?;
        } else {
            let kib = bytes.div_ceil(1024);
            paper::print(&format!(
                "{shown}: {follow_ups} follow-ups, {kib} KiB, checked.\nIt holds personal data; \
                 keep it where only the clinic can read it.\n"
            ))?;
        }
        Ok(Exit::Done.into())
    }
}

impl RestoreArgs {
    pub(super) fn run(&self) -> Result<ExitCode, CommandError> {
        let Some(file) = self.load.as_ref().or(self.check.as_ref()) else {
            return Err(CommandError::BadInput("name a copy to check or to load".to_owned()));
        };
        let checked = check(file)?;
        if self.load.is_some() && checked.usable {
            self.load(file)?;
        }
        let exit = if checked.usable { Exit::Done } else { Exit::Unwell };
        if self.json {
            paper::print_json(&checked)?;
        } else if checked.usable {
            paper::print(&format!(
                "{}: {} follow-ups, {} entries, whole and untouched; every record leads to what \
                 the copy says.\n",
                file.display(),
                checked.follow_ups,
                checked.entries
            ))?;
        } else {
            for finding in &checked.findings {
                paper::print(&format!("{finding}\n"))?;
            }
            eprintln!("fadewatch: this copy should not be restored\nhint: check an older one");
        }
        Ok(exit.into())
    }
}

impl RestoreArgs {
    fn load(&self, file: &Path) -> Result<(), CommandError> {
        let clinic = self.config.clinic()?;
        if clinic.server.is_none() {
            return Err(CommandError::Refused(
                "the clinic file names no database server\nhint: to restore into a data folder, see \
                 `fadewatch restore --help`"
                    .to_owned(),
            ));
        }
        let _hold = data::hold(&clinic, &Clock::Real)?;
        data::open(&clinic, Mode::Command)?.load_copy(file)?;
        Ok(())
    }
}

fn check(file: &Path) -> Result<Checked, CommandError> {
    if !file.exists() {
        let what = format!("there is no file {}", file.display());
        return Err(CommandError::NotFound(what));
    }
    let _progress = Progress::of("checking the copy");
    let CopyChecked { follow_ups, entries, findings } = backing_up::check_copy(file)?;
    Ok(Checked { usable: findings.is_empty(), follow_ups, entries, findings })
}
