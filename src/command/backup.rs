//! `fadewatch backup` and `fadewatch restore`: copies of the data, proof that one can be used, and
//! putting one where there is nothing yet: on a database server, or in a data folder.
//!
//! Never here: when backups are made; moving the data of before aside (a person does that).
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
use crate::store::{self, DataKey, Mode, Store};

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
        restore: stop the service, move the data folder aside, then\n  \
        fadewatch restore --load /backups/fadewatch-2026-03-06.db\nand start the service.\n\nTo move to \
        a database server or back, or to encrypt the data, change its key or\nkeep it plain from now on: \
        make a copy with `fadewatch backup`, change [store] in\nthe clinic file, then restore that copy \
        as above, with\n  --key-file OLD-KEY\nwhere the copy is encrypted with another key than the \
        clinic file names. Once all\nis well, destroy what was moved aside and the copies of before."
)]
pub(super) struct RestoreArgs {
    /// The copy to check: is it whole, untouched, and does its record lead to what it says?
    #[arg(long, value_name = "FILE", required_unless_present = "load")]
    check: Option<PathBuf>,
    /// The copy to check and then to put where the clinic file says that the data is: a data folder
    /// without data, or an empty database server.
    #[arg(long, value_name = "FILE", conflicts_with = "check")]
    load: Option<PathBuf>,
    /// The file with the copy's key, where it is not the one that the clinic file names. A copy that
    /// is not encrypted needs none.
    #[arg(long, value_name = "FILE")]
    key_file: Option<PathBuf>,
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
        let key = self.key_of(file)?;
        let checked = check(file, key.as_ref())?;
        if self.load.is_some() && checked.usable {
            self.load(file, key.as_ref())?;
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
    /// The key of a copy. The clinic file is not asked where none is needed, so that copies can be
    /// checked anywhere.
    fn key_of(&self, file: &Path) -> Result<Option<DataKey>, CommandError> {
        match &self.key_file {
            Some(key) => Ok(Some(data::key_in(key)?)),
            None if !file.exists() || store::is_plain(file) => Ok(None),
            None if !self.config.is_there() => Ok(None),
            None => Ok(data::key(&self.config.clinic()?)?),
        }
    }

    fn load(&self, file: &Path, key: Option<&DataKey>) -> Result<(), CommandError> {
        let clinic = self.config.clinic()?;
        let own_key = data::key(&clinic)?;
        let _hold = data::hold(&clinic, &Clock::Real)?;
        let _progress = Progress::of("putting the copy in place");
        if clinic.server.is_some() {
            data::open(&clinic, Mode::Command)?.load_copy(file, key)?;
        } else {
            Store::load_copy_into_folder(&clinic.data_folder, own_key.as_ref(), file, key)?;
        }
        Ok(())
    }
}

fn check(file: &Path, key: Option<&DataKey>) -> Result<Checked, CommandError> {
    if !file.exists() {
        let what = format!("there is no file {}", file.display());
        return Err(CommandError::NotFound(what));
    }
    let _progress = Progress::of("checking the copy");
    let CopyChecked { follow_ups, entries, findings } = backing_up::check_copy(file, key)?;
    Ok(Checked { usable: findings.is_empty(), follow_ups, entries, findings })
}
