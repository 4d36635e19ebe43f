//! Looks into a mailbox without leaving a trace, for a trial of the mail account.
//!
//! Never here: handing mails over to the service.
//! Promises: nothing is marked, moved or confirmed; only what came after the first look is shown.

use std::collections::HashSet;
use std::path::{Path, PathBuf};
use std::time::Duration;

use async_imap::imap_proto::{MailboxDatum, Response};
use chrono::{DateTime, Utc};

use super::super::connectivity::{Outage, Trouble};
use super::super::wire::Fault;
use super::Inbox;
use super::fetching::{fetch, list, portion};
use super::imap::ImapInbox;
use super::link::Link;

/// How often a maildir is looked into.
const FOLDER_EVERY: Duration = Duration::from_millis(500);

/// Somebody who looks into a mailbox.
pub struct Onlooker(Place);

enum Place {
    Mailbox { link: Link, next_uid: u32 },
    Folder { folder: PathBuf, known: HashSet<String> },
}

/// A mail that came. Its `Debug` leaves the mail itself out.
pub struct Newcomer {
    /// The mail.
    pub raw: Vec<u8>,
    /// When the server received it, by the server's clock.
    pub received_at: Option<DateTime<Utc>>,
}

impl std::fmt::Debug for Newcomer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Newcomer").field("bytes", &self.raw.len()).finish_non_exhaustive()
    }
}

impl Onlooker {
    /// Opens the mailbox; what lies in it already is not shown.
    ///
    /// # Errors
    /// When it cannot be opened, with the step that failed.
    pub async fn open(inbox: &Inbox) -> Result<Self, Outage> {
        match inbox {
            Inbox::Imap(inbox) => Self::open_mailbox(inbox).await.map_err(outage),
            Inbox::Maildir(inbox) => {
                let folder = inbox.folder().to_owned();
                let known = files_in(&folder).map_err(outage)?.into_iter().map(name_of).collect();
                Ok(Self(Place::Folder { folder, known }))
            }
        }
    }

    async fn open_mailbox(inbox: &ImapInbox) -> Result<Self, Fault> {
        let (settings, shield) = inbox.parts();
        let mut link = Link::open(settings, shield).await?;
        link.open_folder(&settings.folder).await?;
        let mut last = 0;
        link.demand("UID SEARCH UID *", Trouble::Protocol, |response| {
            if let Response::MailboxData(MailboxDatum::Search(uids)) = response {
                last = uids.iter().copied().max().unwrap_or(0).max(last);
            }
        })
        .await?;
        Ok(Self(Place::Mailbox { link, next_uid: last + 1 }))
    }

    /// What came since the last look; waits up to `patience` for something to come.
    ///
    /// # Errors
    /// When the mailbox can be read no longer.
    pub async fn newcomers(&mut self, patience: Duration) -> Result<Vec<Newcomer>, Outage> {
        match &mut self.0 {
            Place::Mailbox { link, next_uid } => {
                mailbox_newcomers(link, next_uid, patience).await.map_err(outage)
            }
            Place::Folder { folder, known } => {
                let until = tokio::time::Instant::now() + patience;
                loop {
                    let found = folder_newcomers(folder, known).map_err(outage)?;
                    if !found.is_empty() || tokio::time::Instant::now() >= until {
                        return Ok(found);
                    }
                    tokio::time::sleep(FOLDER_EVERY.min(patience)).await;
                }
            }
        }
    }
}

async fn mailbox_newcomers(
    link: &mut Link,
    next_uid: &mut u32,
    patience: Duration,
) -> Result<Vec<Newcomer>, Fault> {
    link.demand("NOOP", Trouble::Protocol, |_| {}).await?;
    let mut listed = list(link, *next_uid, None).await?;
    if listed.is_empty() {
        link.clear_news();
        link.wait_for_news(patience, std::future::pending()).await?;
        listed = list(link, *next_uid, None).await?;
    }
    let mut newcomers = Vec::new();
    let mut rest = listed.as_slice();
    while !rest.is_empty() {
        let (now, later) = rest.split_at(portion(rest, false));
        let mut fetched = fetch(link, now).await?;
        for mail in now {
            let raw = fetched.remove(&mail.uid).unwrap_or_default();
            newcomers.push(Newcomer { raw, received_at: mail.received_at });
            *next_uid = mail.uid + 1;
        }
        rest = later;
    }
    Ok(newcomers)
}

fn folder_newcomers(folder: &Path, known: &mut HashSet<String>) -> Result<Vec<Newcomer>, Fault> {
    let mut newcomers = Vec::new();
    for path in files_in(folder)? {
        if !known.insert(name_of(path.clone())) {
            continue;
        }
        // A mail program may move the file between listing and reading; its bare name is the same.
        let Ok(raw) = std::fs::read(&path) else { continue };
        let received_at = std::fs::metadata(&path).and_then(|found| found.modified()).ok();
        newcomers.push(Newcomer { raw, received_at: received_at.map(DateTime::from) });
    }
    Ok(newcomers)
}

fn files_in(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let mut files = Vec::new();
    for part in ["new", "cur"] {
        let entries = std::fs::read_dir(folder.join(part))
            .map_err(|error| Fault::new(Trouble::Disk, error))?;
        files.extend(entries.filter_map(|entry| Some(entry.ok()?.path())));
    }
    files.sort();
    Ok(files)
}

/// The unique part of a maildir's file name, without the flags after it.
fn name_of(path: PathBuf) -> String {
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned());
    let name = name.unwrap_or_default();
    name.split_once(":2,").map_or(name.clone(), |(unique, _)| unique.to_owned())
}

fn outage(fault: Fault) -> Outage {
    Outage { failures: 1, trouble: fault.trouble, why: fault.why }
}
