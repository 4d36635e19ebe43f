//! Takes the new mails of the open folder: hands them over, waits for their confirmation, marks them.
//!
//! Never here: connecting, waiting for news.
//! Promises: a mail is passed over only when it has vanished from the folder, was confirmed, or
//! bears our mark where no checkpoint tells more; nothing is marked that was not confirmed.

use tokio::sync::{mpsc, oneshot};

use super::super::connectivity::Trouble;
use super::super::wire::Fault;
use super::fetching::{self, Listed, PORTION_MAILS, uid_set};
use super::imap::{ImapSettings, WhenTaken};
use super::link::{Ending, Folder, Link, quoted};
use super::{Arrival, Checkpoint, Extent, Place};

/// The keyword of a mail that a program has dealt with.
pub(super) const KEYWORD: &str = "$Processed";
/// So many tries to fetch a mail, each on a connection of its own, before it is handed over as
/// unreadable: a mail that a server or our parser stumbles over must not keep all others out.
const TRIES_MAX: u32 = 5;

/// Why a connection is left.
#[derive(Debug)]
pub(super) enum Stopped {
    /// Nobody takes mails any more.
    ReceiverGone,
    /// Something failed.
    Fault(Fault),
}

impl From<Fault> for Stopped {
    fn from(fault: Fault) -> Self {
        Self::Fault(fault)
    }
}

/// How far the folder was read; outlives connections.
pub(super) struct Taking {
    arrivals: mpsc::Sender<Vec<Arrival>>,
    /// Everything up to here is dealt with. Its numbering is 0 before the folder was first opened.
    done: Checkpoint,
    /// Whether marked and old mails are left alone, since no checkpoint told where to go on.
    is_anew: bool,
    /// The mail that could not be fetched, and how often in a row.
    stumbling: Option<(u32, u32)>,
    /// Whether the open folder takes our keyword.
    keywords: bool,
}

impl Taking {
    /// Goes on after the checkpoint.
    pub fn new(from: Option<Checkpoint>, arrivals: mpsc::Sender<Vec<Arrival>>) -> Self {
        let done = from.unwrap_or(Checkpoint { uid_validity: 0, last_uid: 0 });
        Self { arrivals, done, is_anew: from.is_none(), stumbling: None, keywords: false }
    }

    /// Comes when nobody takes mails any more.
    pub fn receiver_gone(&self) -> impl Future<Output = ()> + use<> {
        let arrivals = self.arrivals.clone();
        async move { arrivals.closed().await }
    }

    /// Whether nobody takes mails any more.
    pub fn is_receiver_gone(&self) -> bool {
        self.arrivals.is_closed()
    }

    /// Looks where to go on in the folder just opened, and marks what was confirmed but not yet
    /// marked when the last connection ended.
    pub async fn begin(
        &mut self,
        link: &mut Link,
        folder: &Folder,
        settings: &ImapSettings,
    ) -> Result<(), Stopped> {
        self.keywords = folder.keywords;
        if self.done.uid_validity != folder.uid_validity {
            if self.done.uid_validity != 0 {
                tracing::warn!("the mail server has numbered its mails anew; reading all of them");
            }
            self.done = Checkpoint { uid_validity: folder.uid_validity, last_uid: 0 };
            self.is_anew = true;
            self.stumbling = None;
        } else if self.keywords && self.done.last_uid > 0 {
            let from = self.done.last_uid.saturating_sub(PORTION_MAILS as u32 - 1).max(1);
            let mut left = fetching::list(link, from, Some(self.done.last_uid)).await?;
            left.retain(|mail| is_ours(mail, settings));
            self.mark(link, &left, settings).await?;
        }
        Ok(())
    }

    /// Takes all mails that came after the last one dealt with. Returns whether any came.
    pub async fn take_new(
        &mut self,
        link: &mut Link,
        settings: &ImapSettings,
    ) -> Result<bool, Stopped> {
        link.clear_news();
        let mut new = fetching::list(link, self.done.last_uid.saturating_add(1), None).await?;
        let last = new.last().map(|mail| mail.uid);
        if self.is_anew {
            new.retain(|mail| is_ours(mail, settings));
        }
        let mut rest = &new[..];
        while !rest.is_empty() {
            let (portion, later) = rest.split_at(fetching::portion(rest, self.stumbling.is_some()));
            self.take(link, portion, settings).await?;
            rest = later;
        }
        if let Some(last) = last {
            self.done.last_uid = self.done.last_uid.max(last);
        }
        Ok(last.is_some())
    }

    /// Fetches a portion, hands it over, and marks what was confirmed.
    async fn take(
        &mut self,
        link: &mut Link,
        portion: &[Listed],
        settings: &ImapSettings,
    ) -> Result<(), Stopped> {
        let given_up = match (self.stumbling, portion) {
            (Some((uid, tries)), [mail]) => mail.uid == uid && tries >= TRIES_MAX,
            _ => false,
        };
        let mut fetched = Default::default();
        if !given_up {
            fetched = match fetching::fetch(link, portion).await {
                Ok(fetched) => fetched,
                Err(fault) => return Err(self.stumbled(portion[0].uid, fault)),
            };
        }
        let mut there = Vec::with_capacity(portion.len());
        let mut ended = Ok(());
        for mail in portion {
            match fetched.remove(&mail.uid) {
                Some(raw) => there.push((mail, Some(raw))),
                None if given_up => there.push((mail, None)),
                None if fetching::is_there(link, mail.uid).await? => {
                    let why = "the server does not hand out a mail that it lists";
                    ended = Err(self.stumbled(mail.uid, Fault::new(Trouble::Protocol, why)));
                    break;
                }
                // Somebody removed it: nothing is left to take.
                None => {}
            }
        }
        let (confirmed, handed_over) = self.hand_over(there, settings).await;
        let marked = self.mark(link, &confirmed, settings).await;
        handed_over.and(ended).and(marked)
    }

    /// Hands mails over together (one without content: as unreadable) and waits for their
    /// confirmations in turn. Returns those that were confirmed, up to the first that was not.
    async fn hand_over(
        &mut self,
        mails: Vec<(&Listed, Option<Vec<u8>>)>,
        settings: &ImapSettings,
    ) -> (Vec<Listed>, Result<(), Stopped>) {
        let mut confirmed = Vec::with_capacity(mails.len());
        if mails.is_empty() {
            return (confirmed, Ok(()));
        }
        let uid_validity = self.done.uid_validity;
        let (arrivals, awaited): (Vec<_>, Vec<_>) =
            mails.into_iter().map(|(mail, raw)| arrival(mail, raw, uid_validity)).unzip();
        if self.arrivals.send(arrivals).await.is_err() {
            return (confirmed, Err(Stopped::ReceiverGone));
        }
        for (mail, confirmation) in awaited {
            match tokio::time::timeout(settings.confirm_within, confirmation).await {
                Ok(Ok(())) => {}
                _ if self.arrivals.is_closed() => return (confirmed, Err(Stopped::ReceiverGone)),
                _ => {
                    let why = "a mail was handed over, but not confirmed as stored";
                    return (confirmed, Err(Fault::new(Trouble::NotTaken, why).into()));
                }
            }
            self.stumbling = self.stumbling.filter(|(uid, _)| *uid != mail.uid);
            self.done.last_uid = mail.uid;
            confirmed.push(mail.clone());
        }
        (confirmed, Ok(()))
    }

    /// Remembers a mail that could not be fetched, so that it is fetched alone from now on.
    fn stumbled(&mut self, uid: u32, fault: Fault) -> Stopped {
        let tries = match self.stumbling {
            Some((same, tries)) if same == uid => tries + 1,
            _ => 1,
        };
        tracing::warn!(uid, tries, trouble = %fault.trouble, "a mail could not be fetched");
        self.stumbling = Some((uid, tries));
        fault.into()
    }

    /// Marks mails on the server, and moves them where asked for. A server that refuses is told
    /// in the log only: the checkpoint knows better than the marks.
    async fn mark(
        &self,
        link: &mut Link,
        mails: &[Listed],
        settings: &ImapSettings,
    ) -> Result<(), Stopped> {
        if mails.is_empty() {
            return Ok(());
        }
        let set = uid_set(mails);
        let flags = if self.keywords { format!("\\Seen {KEYWORD}") } else { "\\Seen".to_owned() };
        let store = format!("UID STORE {set} +FLAGS.SILENT ({flags})");
        let limit = link.limit();
        if let Ending::Refused(_) = link.command(&store, limit, |_| {}).await? {
            tracing::warn!(count = mails.len(), "the mail server refuses to mark mails as taken");
        }
        if let WhenTaken::MoveTo(folder) = &settings.when_taken
            && link.can_move
        {
            let to = quoted(folder);
            let command = format!("UID MOVE {set} {to}");
            if let Ending::Refused(_) = link.command(&command, limit, |_| {}).await? {
                // Most likely the folder does not exist yet.
                link.command(&format!("CREATE {to}"), limit, |_| {}).await?;
                if let Ending::Refused(_) = link.command(&command, limit, |_| {}).await? {
                    tracing::warn!(count = mails.len(), "the mail server refuses to move mails");
                }
            }
        }
        Ok(())
    }
}

/// A mail to be handed over, with what its confirmation comes by.
fn arrival(
    mail: &Listed,
    raw: Option<Vec<u8>>,
    uid_validity: u32,
) -> (Arrival, (&Listed, oneshot::Receiver<()>)) {
    let extent = match raw {
        None => Extent::Unreadable,
        Some(_) if mail.is_too_large() => {
            Extent::HeadOnly { size_bytes: u64::from(mail.size_bytes) }
        }
        Some(_) => Extent::Whole,
    };
    let (taken, confirmation) = oneshot::channel();
    let arrival = Arrival {
        raw: raw.unwrap_or_default(),
        extent,
        received_at: mail.received_at,
        place: Place::Imap(Checkpoint { uid_validity, last_uid: mail.uid }),
        taken,
    };
    (arrival, (mail, confirmation))
}

/// Whether a mail may still have to be taken, where no checkpoint tells.
fn is_ours(mail: &Listed, settings: &ImapSettings) -> bool {
    let begun = settings.not_before;
    let is_recent = begun.is_none_or(|begun| mail.received_at.is_none_or(|at| at >= begun));
    is_recent && !mail.is_processed
}
