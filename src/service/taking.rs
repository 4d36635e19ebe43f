//! Taking a mail in: stored before the mail server is told that it was taken.
//!
//! Never here: mailboxes, what a mail means.
//! Promises: the same mail met again changes nothing; a mail that nobody can read whole is set
//! aside at once, and the clinic is told.

use super::error::ServiceError;
use super::mail_clock;
use super::office::Office;
use super::waking;
use crate::follow_up::Instant;
use crate::reply::letter;
use crate::store::{Filing, InboxId, MailboxMark, Place, Tx};

/// A mail as it lay in the mailbox.
#[derive(Clone, PartialEq, Eq)]
pub struct Arrived {
    /// Its bytes; of a mail that is too large, the first ones.
    pub raw: Vec<u8>,
    /// Whether these are all of its bytes.
    pub is_whole: bool,
    /// When the server received it, by the server's clock, where it says so.
    pub received_at: Option<Instant>,
    /// Whether the service met it before it had woken up.
    pub lay_waiting: bool,
    /// Its number on the server, where it has one.
    pub mark: Option<MailboxMark>,
}

/// A mail with the place by which it is known again.
pub struct Placed {
    mail: Arrived,
    mailbox: String,
    place: Place,
}

impl Placed {
    /// Places a mail. It is read for that, and a large one takes its time: not while others wait
    /// for the writer.
    pub fn new(mailbox: &str, mail: Arrived) -> Self {
        let place = match mail.mark {
            Some(mark) => {
                let id = letter::message_id(&mail.raw).unwrap_or_default();
                Place::on_server(mailbox, mark.uid_validity, mark.uid, &id)
            }
            None => Place::by_bytes(&mail.raw),
        };
        Self { mail, mailbox: mailbox.to_owned(), place }
    }
}

/// Stores a mail. None where it had been stored before.
///
/// # Errors
/// When the store refuses; then the mail stays in the mailbox and is met again.
pub fn take_in(
    office: &Office,
    tx: &mut Tx<'_>,
    placed: &Placed,
    now: Instant,
) -> Result<Option<InboxId>, ServiceError> {
    let Placed { mail, mailbox, place } = placed;
    let came_at = mail_clock::arrival(tx, mail.received_at, mail.lay_waiting, now)?;
    let put = tx.put_received(*place, &mail.raw, came_at)?;
    if let (Some(id), false) = (put, mail.is_whole) {
        let note = "too large or unreadable: a person must look in the mailbox";
        let filing = Filing { follow_up: None, person: None, note: note.to_owned() };
        tx.set_received_aside(id, &filing)?;
        waking::tell_poisonous(office, tx, now)?;
    }
    if let Some(mark) = mail.mark {
        tx.mark_mailbox(mailbox, mark)?;
    }
    Ok(put)
}
