//! Backups on a schedule, each tried out before it counts, and proof that a copy can be used.
//!
//! Never here: waiting; putting a copy in place of the data.
//! Promises: an old copy goes only after a newer one proved usable; no file is touched that does not
//! bear the name that backups have.

use std::fs;
use std::io;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

use super::error::ServiceError;
use crate::config::Backups;
use crate::follow_up::Instant;
use crate::store::{DataKey, Store, StoreError, View};

/// Follow-ups read at once.
const PORTION: u32 = 500;
/// How the names of copies begin and end; between them stands the time in UTC.
const NAME: (&str, &str) = ("fadewatch-", ".db");
/// The time in a copy's name.
const STAMP: &str = "%Y-%m-%dT%H%M%SZ";

/// What a look through a copy found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CopyChecked {
    /// Follow-ups in it.
    pub follow_ups: usize,
    /// Journal entries in it.
    pub entries: u64,
    /// What is wrong with it; empty when it can be used.
    pub findings: Vec<String>,
}

/// Makes a copy, tries it out, and lets the oldest go. Returns the copy's path. Blocks.
///
/// # Errors
/// When the copy cannot be made, or proves unusable; no old one is gone then.
pub fn back_up(store: &Store, backups: &Backups, now: Instant) -> Result<PathBuf, ServiceError> {
    let refused = |doing: &'static str| move |source| ServiceError::System { doing, source };
    fs::DirBuilder::new()
        .recursive(true)
        .mode(0o700)
        .create(&backups.folder)
        .map_err(refused("making the folder for backups"))?;
    let name = format!("{}{}{}", NAME.0, now.format(STAMP), NAME.1);
    let copy = backups.folder.join(name);
    store.backup(&copy)?;
    let checked = check_copy(&copy, store.key())?;
    if let Some(finding) = checked.findings.first() {
        let source = io::Error::new(io::ErrorKind::InvalidData, finding.clone());
        return Err(ServiceError::System { doing: "trying a backup out", source });
    }
    let mut copies = copies(&backups.folder).map_err(refused("looking for old backups"))?;
    copies.sort();
    let keep = usize::try_from(backups.copies).unwrap_or(usize::MAX);
    for old in copies.iter().take(copies.len().saturating_sub(keep)) {
        fs::remove_file(old).map_err(refused("removing an old backup"))?;
    }
    Ok(copy)
}

/// Looks a copy through: is it whole, untouched, and does its record lead to what it says?
///
/// # Errors
/// When it cannot be opened or read, also because it has another key. Damage is a finding.
pub fn check_copy(file: &Path, key: Option<&DataKey>) -> Result<CopyChecked, StoreError> {
    let looked = Store::open_copy(file, key).and_then(|store| store.read_blocking(look_through));
    match looked {
        Err(StoreError::Damaged { finding }) => {
            let findings = vec![format!("the file is damaged: {finding}")];
            Ok(CopyChecked { findings, ..CopyChecked::default() })
        }
        other => other,
    }
}

fn look_through(view: &View<'_>) -> Result<CopyChecked, StoreError> {
    view.check_integrity()?;
    let verification = view.verify_journal()?;
    let mut checked = CopyChecked {
        entries: verification.entries,
        findings: verification.findings.iter().map(ToString::to_string).collect(),
        follow_ups: 0,
    };
    let mut after = None;
    loop {
        let portion = view.follow_ups(after, PORTION)?;
        let Some(last) = portion.last() else { return Ok(checked) };
        after = Some(last.follow_up);
        checked.follow_ups += portion.len();
        for listed in &portion {
            if !view.is_state_as_journalled(listed.follow_up)? {
                let client = &listed.client;
                let what = "the state kept is not what its record leads to";
                checked.findings.push(format!("{client}: {what}"));
            }
        }
    }
}

/// All copies of ours in a folder.
fn copies(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut copies = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        let stamp = name.strip_prefix(NAME.0).and_then(|rest| rest.strip_suffix(NAME.1));
        let is_ours =
            stamp.is_some_and(|stamp| chrono::NaiveDateTime::parse_from_str(stamp, STAMP).is_ok());
        if is_ours {
            copies.push(path);
        }
    }
    Ok(copies)
}
