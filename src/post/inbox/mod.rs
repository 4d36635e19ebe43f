//! Mail in: watches a mailbox and hands what comes to the service, in bursts of a bounded size.
//!
//! Never here: reading mails, deciding whose they are, keeping them.
//! Promises: a mail is handed over at least once and in the order of arrival; it is marked on the
//! server only after the service confirmed it; the next burst waits until then. After a mail that was
//! not confirmed, all that came with it later are handed over again.

mod fetching;
mod imap;
mod link;
mod maildir;
mod onlooker;
mod patience;
mod taking;

use std::fmt;

use chrono::{DateTime, Utc};
use tokio::sync::{mpsc, oneshot, watch};

pub use imap::{ImapInbox, ImapSettings, WhenTaken};
pub use maildir::MaildirInbox;
pub use onlooker::{Newcomer, Onlooker};

use super::connectivity::Connectivity;

/// Mails up to this size are handed over whole; of larger ones, only the head. Mail servers rarely
/// take more, and a reply is never so long.
pub const WHOLE_MAIL_BYTES_MAX: u32 = 25 * 1024 * 1024;

/// How much of a mail's head is handed over when the mail is too large.
const HEAD_BYTES_MAX: u32 = 256 * 1024;

/// A way in for mail.
#[derive(Debug)]
pub enum Inbox {
    /// A mail server.
    Imap(ImapInbox),
    /// A folder, for the demonstration and where a local mail server delivers to one.
    Maildir(MaildirInbox),
}

impl Inbox {
    /// Watches the mailbox and hands over what is in it and what comes.
    ///
    /// Returns when the receiver of `arrivals` is gone. Trouble never ends it: it is told through
    /// `health`, and tried again with growing waits. Dropping the future is safe at any moment:
    /// what was not confirmed will be handed over again.
    ///
    /// `from` is the checkpoint of the last arrival that was stored ([`Place::checkpoint`]); what
    /// came later is handed over, whether or not a person has read it meanwhile. Without one, or
    /// when the server has numbered its mails anew, everything is that does not bear the mark of
    /// being taken: the service must know a mail again that it has stored already.
    pub async fn run(
        self,
        from: Option<Checkpoint>,
        arrivals: mpsc::Sender<Vec<Arrival>>,
        health: watch::Sender<Connectivity>,
    ) {
        match self {
            Self::Imap(inbox) => inbox.run(from, arrivals, health).await,
            Self::Maildir(inbox) => inbox.run(arrivals, health).await,
        }
    }
}

/// One mail handed over. Its `Debug` leaves the mail itself out.
pub struct Arrival {
    /// The mail as the server keeps it; see `extent`.
    pub raw: Vec<u8>,
    /// How much of the mail `raw` is.
    pub extent: Extent,
    /// When the server received it (IMAP), or the file's time (maildir); none if unknown.
    pub received_at: Option<DateTime<Utc>>,
    /// Where it lies.
    pub place: Place,
    /// To be told once the mail is stored and committed. Dropped untold, the mail stays unmarked
    /// and is handed over again after a while.
    pub taken: oneshot::Sender<()>,
}

impl fmt::Debug for Arrival {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Arrival")
            .field("place", &self.place)
            .field("extent", &self.extent)
            .field("bytes", &self.raw.len())
            .finish_non_exhaustive()
    }
}

/// How much of a mail was handed over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Extent {
    /// All of it.
    Whole,
    /// Its head only, since it is larger than [`WHOLE_MAIL_BYTES_MAX`].
    HeadOnly {
        /// Its size as the server tells it.
        size_bytes: u64,
    },
    /// Nothing: it lies in the mailbox, but could not be fetched in many tries. A person must look.
    Unreadable,
}

/// Where a mail lies, to know it again.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// In a mailbox.
    Imap(Checkpoint),
    /// In a maildir, under this file name.
    Maildir(String),
}

impl Place {
    /// What to go on from once this mail is stored.
    pub fn checkpoint(&self) -> Option<Checkpoint> {
        match self {
            Self::Imap(checkpoint) => Some(*checkpoint),
            Self::Maildir(_) => None,
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Imap(at) => write!(f, "imap/{}/{}", at.uid_validity, at.last_uid),
            Self::Maildir(file) => write!(f, "maildir/{file}"),
        }
    }
}

/// How far a mailbox was read: everything up to this mail is stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Checkpoint {
    /// The numbering that `last_uid` belongs to; a server that numbers anew changes it.
    pub uid_validity: u32,
    /// The mail's number; numbers only grow.
    pub last_uid: u32,
}

#[cfg(test)]
mod tests;
