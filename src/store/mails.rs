//! What is kept of a mail to a person.
//!
//! Never here: how mail moves through the outbox.
//! Promises: what a record says of a mail holds no address and no words; the mail itself can be
//! erased sooner than its record.

use std::fmt;

use super::database::{self, OptionalExtension, Row, params};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, JournalSeq, OutboxId, from_ms};
use super::people::PersonRef;
use super::tokens::RequestTarget;
use super::view::View;
use crate::follow_up::{AlertId, Instant};

/// How urgent a mail is, the most urgent first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Urgency {
    /// Keep the client off the seat.
    Stop,
    /// An alert to a clinician.
    Alert,
    /// A recheck of a mark.
    Recheck,
    /// A first look.
    FirstLook,
    /// Routine looks, announcements, and what the clinic is told.
    Routine,
    /// Daily messages and other digests.
    Digest,
}

/// How far a mail has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum MailStatus {
    /// It waits for its next try.
    Queued,
    /// A sender has it.
    Sending,
    /// A server has accepted it.
    Sent,
    /// It was refused for good.
    Refused,
    /// It is no longer wanted.
    Withdrawn,
    /// It goes as a part of another mail, whose fate it shares.
    Carried,
}

/// A mail that is to be sent.
#[derive(Clone, PartialEq, Eq)]
pub struct NewMail {
    /// The follow-up, where it is about one.
    pub follow_up: Option<FollowUpId>,
    /// The entry that called for it.
    pub cause: Option<JournalSeq>,
    /// To whom.
    pub person: PersonRef,
    /// What it asks about.
    pub target: RequestTarget,
    /// Where delivery reports go.
    pub sender: String,
    /// The address that it goes to.
    pub address: String,
    /// Its Message-ID, unique. One that begins with the time costs less to keep.
    pub message_id: String,
    /// How urgent it is.
    pub urgency: Urgency,
    /// The bytes to send.
    pub raw: Vec<u8>,
}

/// A mail that a sender has claimed.
#[derive(Clone, PartialEq, Eq)]
pub struct ClaimedMail {
    /// Its number.
    pub id: OutboxId,
    /// What was put in.
    pub mail: NewMail,
    /// When it was put in.
    pub created_at: Instant,
    /// How often it has been tried before.
    pub attempts: u32,
}

/// Where a mail stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailRecord {
    /// Its number.
    pub id: OutboxId,
    /// The follow-up, where it is about one.
    pub follow_up: Option<FollowUpId>,
    /// The entry that called for it.
    pub cause: Option<JournalSeq>,
    /// To whom.
    pub person: PersonRef,
    /// What it asks about.
    pub target: RequestTarget,
    /// How urgent it is.
    pub urgency: Urgency,
    /// When it was put in.
    pub created_at: Instant,
    /// How often it has been tried.
    pub attempts: u32,
    /// How far it has come.
    pub status: MailStatus,
    /// The class of the last refusal.
    pub last_error: Option<String>,
}

/// Says nothing of the person, the address or the words.
impl fmt::Debug for NewMail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("NewMail")
            .field("follow_up", &self.follow_up)
            .field("cause", &self.cause)
            .field("target", &self.target)
            .field("urgency", &self.urgency)
            .finish_non_exhaustive()
    }
}

impl fmt::Debug for ClaimedMail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("ClaimedMail")
            .field("id", &self.id)
            .field("mail", &self.mail)
            .field("attempts", &self.attempts)
            .finish_non_exhaustive()
    }
}

impl Urgency {
    /// All, the most urgent first.
    pub const ALL: [Self; 6] =
        [Self::Stop, Self::Alert, Self::Recheck, Self::FirstLook, Self::Routine, Self::Digest];

    pub(super) fn rank(self) -> i64 {
        match self {
            Self::Stop => 0,
            Self::Alert => 1,
            Self::Recheck => 2,
            Self::FirstLook => 3,
            Self::Routine => 4,
            Self::Digest => 5,
        }
    }

    fn kept(rank: i64) -> Result<Self, StoreError> {
        Self::ALL
            .into_iter()
            .find(|urgency| urgency.rank() == rank)
            .ok_or_else(|| StoreError::unreadable("mail of urgency", rank))
    }
}

impl MailStatus {
    fn kept(name: &str) -> Result<Self, StoreError> {
        match name {
            "queued" => Ok(Self::Queued),
            "sending" => Ok(Self::Sending),
            "sent" => Ok(Self::Sent),
            "refused" => Ok(Self::Refused),
            "withdrawn" => Ok(Self::Withdrawn),
            "carried" => Ok(Self::Carried),
            _ => Err(StoreError::unreadable("mail of status", name)),
        }
    }
}

impl View<'_> {
    /// Where a mail stands.
    ///
    /// # Errors
    /// When there is none, or it cannot be read.
    pub fn mail(&self, id: OutboxId) -> Result<MailRecord, StoreError> {
        self.connection
            .prepare_cached(&format!("SELECT {KEPT} FROM outbox WHERE id = ?1"))
            .and_then(|mut select| select.query_one([id.number()], Kept::of))
            .doing("reading a mail's record")?
            .record()
    }

    /// The records of all mail from the newest back, at most `limit`.
    ///
    /// # Errors
    /// When one cannot be read.
    pub fn newest_mails(&self, limit: u32) -> Result<Vec<MailRecord>, StoreError> {
        self.connection
            .prepare_cached(&format!("SELECT {KEPT} FROM outbox ORDER BY id DESC LIMIT ?1"))
            .and_then(|mut select| select.query_all(params![limit], Kept::of))
            .doing("reading mail records")?
            .into_iter()
            .map(Kept::record)
            .collect()
    }

    /// The records of the mails put in after one of them, oldest first; of all with none. For one who
    /// watches the service at work.
    ///
    /// # Errors
    /// When one cannot be read.
    pub fn mails_since(&self, after: Option<OutboxId>) -> Result<Vec<MailRecord>, StoreError> {
        let after = after.map_or(0, OutboxId::number);
        self.connection
            .prepare_cached(&format!("SELECT {KEPT} FROM outbox WHERE id > ?1 ORDER BY id"))
            .and_then(|mut select| select.query_all(params![after], Kept::of))
            .doing("reading mail records")?
            .into_iter()
            .map(Kept::record)
            .collect()
    }

    /// The newest alert of a follow-up that was written to a person in a mail or before it, in the
    /// order in which mail was put in; none where there was none.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn newest_alert_sent(
        &self,
        follow_up: FollowUpId,
        person: &PersonRef,
        until: OutboxId,
    ) -> Result<Option<AlertId>, StoreError> {
        let number: Option<u32> = self
            .connection
            .prepare_cached(
                "SELECT max(target_number) FROM outbox
                 WHERE id <= ?1 AND follow_up = ?2 AND target = 'alert' AND person_kind = ?3
                   AND person_ref IS NOT DISTINCT FROM ?4",
            )
            .and_then(|mut select| {
                let (kind, reference) = (person.kind(), person.reference());
                select.query_one(
                    params![until.number(), follow_up.number(), kind, reference],
                    |row| row.get(0),
                )
            })
            .doing("looking for the alerts that were sent")?;
        Ok(number.map(AlertId::new))
    }

    /// The newest mail of an urgency.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn newest_mail_of(&self, urgency: Urgency) -> Result<Option<MailRecord>, StoreError> {
        self.connection
            .prepare_cached(&format!(
                "SELECT {KEPT} FROM outbox WHERE urgency = ?1 ORDER BY id DESC LIMIT 1"
            ))
            .and_then(|mut select| select.query_one([urgency.rank()], Kept::of).optional())
            .doing("reading a mail's record")?
            .map(Kept::record)
            .transpose()
    }

    /// The bytes of a mail; none where they were erased.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn raw_mail(&self, id: OutboxId) -> Result<Option<Vec<u8>>, StoreError> {
        self.connection
            .prepare_cached("SELECT raw FROM outbox_mail WHERE outbox = ?1")
            .and_then(|mut select| select.query_one([id.number()], |row| row.get(0)).optional())
            .doing("reading a mail")
    }
}

/// The columns that `Kept::of` reads.
pub(super) const KEPT: &str = "id, follow_up, cause, person_kind, person_ref, target, \
     target_number, urgency, created_at_utc_ms, attempts, status, last_error";

/// A record as it lies in the table.
pub(super) struct Kept {
    id: i64,
    follow_up: Option<i64>,
    cause: Option<i64>,
    person: (String, Option<String>),
    target: (String, Option<u32>),
    urgency: i64,
    created_at_ms: i64,
    attempts: u32,
    status: String,
    last_error: Option<String>,
}

impl Kept {
    pub(super) fn of(row: &Row<'_>) -> database::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            follow_up: row.get(1)?,
            cause: row.get(2)?,
            person: (row.get(3)?, row.get(4)?),
            target: (row.get(5)?, row.get(6)?),
            urgency: row.get(7)?,
            created_at_ms: row.get(8)?,
            attempts: row.get(9)?,
            status: row.get(10)?,
            last_error: row.get(11)?,
        })
    }

    pub(super) fn record(self) -> Result<MailRecord, StoreError> {
        Ok(MailRecord {
            id: OutboxId::from_number(self.id),
            follow_up: self.follow_up.map(FollowUpId::from_number),
            cause: self.cause.map(JournalSeq::from_number),
            person: PersonRef::kept(&self.person.0, self.person.1.as_deref())?,
            target: RequestTarget::kept(&self.target.0, self.target.1)?,
            urgency: Urgency::kept(self.urgency)?,
            created_at: from_ms(self.created_at_ms)?,
            attempts: self.attempts,
            status: MailStatus::kept(&self.status)?,
            last_error: self.last_error,
        })
    }
}
