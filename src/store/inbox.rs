//! Mail from people: safe here before the server is told that it was taken.
//!
//! Never here: IMAP, what a reply means.
//! Promises: putting the same mail in twice changes nothing; mail is never lost between being put
//! in and being filed or set aside; mail that was begun twice and never finished is set aside.

use std::fmt;

use super::chain::Digest;
use super::database::{self, OptionalExtension, Row, params};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, InboxId, from_ms, to_ms};
use super::people::PersonRef;
use super::view::{Tx, View};
use crate::follow_up::Instant;

/// Mail that was begun so often and never finished is set aside at the next start: reading it
/// may be what ends the service (S26).
const BEGUN_MAX: u32 = 2;

/// The end of the note of a mail of which only the head is kept.
pub(super) const SHORTENED: &str = "; only its head is kept, the rest is in the mailbox";

/// What makes a mail the same mail when it is met again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Place(Digest);

/// A mail that is to be worked on.
#[derive(Clone, PartialEq, Eq)]
pub struct TakenMail {
    /// Its number.
    pub id: InboxId,
    /// When it came.
    pub received_at: Instant,
    /// How often it has been begun, this time included.
    pub attempts: u32,
    /// Its bytes.
    pub raw: Vec<u8>,
}

/// How far a mail has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum InboxStatus {
    /// Not looked at yet.
    New,
    /// Being worked on.
    Taken,
    /// Worked through.
    Filed,
    /// For a person to look at.
    SetAside,
}

/// Where a mail stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InboxRecord {
    /// Its number.
    pub id: InboxId,
    /// When it came.
    pub received_at: Instant,
    /// How far it has come.
    pub status: InboxStatus,
    /// How often it has been begun.
    pub attempts: u32,
    /// What was made of it, in fixed words.
    pub note: String,
    /// The follow-up that it belongs to, where that is known.
    pub follow_up: Option<FollowUpId>,
    /// Who wrote it, where that is known.
    pub person: Option<PersonRef>,
}

/// What became of a mail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Filing {
    /// The follow-up that it belongs to, where that is known.
    pub follow_up: Option<FollowUpId>,
    /// Who wrote it, where that is known.
    pub person: Option<PersonRef>,
    /// What was made of it, in fixed words: none of the mail's own.
    pub note: String,
}

impl Place {
    /// The place of a mail on a server: the mailbox, its UIDVALIDITY and the mail's UID, with the
    /// Message-ID, since a server may use numbers again after a repair.
    pub fn on_server(mailbox: &str, uid_validity: u32, uid: u32, message_id: &str) -> Self {
        let text = format!("{mailbox}\n{uid_validity}\n{uid}\n{message_id}");
        Self(Digest::of(text.as_bytes()))
    }

    /// The place of a mail that is known by its bytes alone, as from a maildir.
    pub fn by_bytes(raw: &[u8]) -> Self {
        Self(Digest::of(raw))
    }
}

/// Says nothing of the words.
impl fmt::Debug for TakenMail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("TakenMail")
            .field("id", &self.id)
            .field("attempts", &self.attempts)
            .finish_non_exhaustive()
    }
}

impl Tx<'_> {
    /// Puts a mail in. None when it was put in before.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn put_received(
        &mut self,
        place: Place,
        raw: &[u8],
        now: Instant,
    ) -> Result<Option<InboxId>, StoreError> {
        let doing = "putting mail in the inbox";
        // Asked, not left to the conflict: what an insertion returns goes through a table of its own, and
        // nobody else writes meanwhile.
        let is_known: bool = self
            .connection
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM inbox WHERE place = ?1)")
            .and_then(|mut select| select.query_one([place.0.bytes()], |row| row.get(0)))
            .doing(doing)?;
        if is_known {
            return Ok(None);
        }
        let id = self
            .connection
            .prepare_cached(
                "INSERT INTO inbox (place, received_at_utc_ms, status, attempts, note)
                 VALUES (?1, ?2, 'new', 0, '')",
            )
            .and_then(|mut insert| insert.insert("id", params![place.0.bytes(), to_ms(now)]))
            .doing(doing)?;
        self.connection
            .prepare_cached("INSERT INTO inbox_mail (inbox, raw) VALUES (?1, ?2)")
            .and_then(|mut insert| insert.execute(params![id, raw]))
            .doing(doing)?;
        Ok(Some(InboxId::from_number(id)))
    }

    /// Takes the mail that has waited longest, to be worked on in a transaction of its own. It
    /// counts as begun from the commit on.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn take_received(&mut self) -> Result<Option<TakenMail>, StoreError> {
        let doing = "taking mail from the inbox";
        let id: Option<i64> = self
            .connection
            .prepare_cached(
                // By the index of what waits, which both conditions are needed for: else every mail
                // that ever came is stepped over.
                "SELECT id FROM inbox INDEXED BY inbox_waiting
                 WHERE status IN ('new', 'taken') AND status = 'new' ORDER BY id LIMIT 1",
            )
            .and_then(|mut select| select.query_one((), |row| row.get(0)).optional())
            .doing(doing)?;
        let Some(id) = id else { return Ok(None) };
        self.connection
            .prepare_cached(
                "UPDATE inbox SET status = 'taken', attempts = attempts + 1 WHERE id = ?1",
            )
            .and_then(|mut update| update.execute([id]))
            .doing(doing)?;
        let (received_at_ms, attempts, raw) = self
            .connection
            .prepare_cached(
                "SELECT received_at_utc_ms, attempts, raw
                 FROM inbox JOIN inbox_mail ON inbox = id WHERE id = ?1",
            )
            .and_then(|mut select| {
                select.query_one([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            })
            .doing(doing)?;
        let id = InboxId::from_number(id);
        Ok(Some(TakenMail { id, received_at: from_ms(received_at_ms)?, attempts, raw }))
    }

    /// Notes that a mail was worked through: in the transaction that writes what follows from it.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn file_received(&mut self, id: InboxId, filing: &Filing) -> Result<(), StoreError> {
        self.end_received(id, "filed", filing)
    }

    /// Sets a mail aside for a person to look at.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn set_received_aside(&mut self, id: InboxId, filing: &Filing) -> Result<(), StoreError> {
        self.end_received(id, "set-aside", filing)
    }

    /// Puts a mail that was begun back, to be begun again.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn put_received_back(&mut self, id: InboxId) -> Result<(), StoreError> {
        self.connection
            .prepare_cached("UPDATE inbox SET status = 'new' WHERE id = ?1 AND status = 'taken'")
            .and_then(|mut update| update.execute([id.number()]))
            .map(|_| ())
            .doing("putting mail back in the inbox")
    }

    /// At the start of the service: puts back what was begun and not finished when the last one
    /// ended. What was begun twice is set aside instead, and returned: the clinic is to be told
    /// of it in fixed words, without reading it.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn recover_received(&mut self) -> Result<Vec<InboxId>, StoreError> {
        let doing = "recovering mail in the inbox";
        let aside = self
            .connection
            .prepare_cached(
                "UPDATE inbox SET status = 'set-aside', note = 'begun twice and never finished'
                 WHERE status = 'taken' AND attempts >= ?1 RETURNING id",
            )
            .and_then(|mut update| {
                update.query_all([BEGUN_MAX], |row| row.get(0).map(InboxId::from_number))
            })
            .doing(doing)?;
        self.connection
            .execute("UPDATE inbox SET status = 'new' WHERE status = 'taken'", ())
            .doing(doing)?;
        Ok(aside)
    }

    /// Keeps only the head of a mail that was worked through, and says so in its note. What it says
    /// must not be needed any more.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn shorten_received(&mut self, id: InboxId, head: &[u8]) -> Result<(), StoreError> {
        let doing = "shortening mail of the inbox";
        self.connection
            .prepare_cached("UPDATE inbox_mail SET raw = ?2 WHERE inbox = ?1")
            .and_then(|mut update| update.execute(params![id.number(), head]))
            .doing(doing)?;
        self.connection
            .prepare_cached("UPDATE inbox SET note = note || ?2 WHERE id = ?1")
            .and_then(|mut update| update.execute(params![id.number(), SHORTENED]))
            .map(|_| ())
            .doing(doing)
    }

    fn end_received(&self, id: InboxId, status: &str, filing: &Filing) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "UPDATE inbox SET status = ?2, note = ?3, follow_up = ?4, person_kind = ?5,
                   person_ref = ?6 WHERE id = ?1",
            )
            .and_then(|mut update| {
                update.execute(params![
                    id.number(),
                    status,
                    filing.note,
                    filing.follow_up.map(FollowUpId::number),
                    filing.person.as_ref().map(PersonRef::kind),
                    filing.person.as_ref().and_then(PersonRef::reference),
                ])
            })
            .map(|_| ())
            .doing("filing mail of the inbox")
    }
}

impl View<'_> {
    /// Where a mail stands.
    ///
    /// # Errors
    /// When there is none, or it cannot be read.
    pub fn received(&self, id: InboxId) -> Result<InboxRecord, StoreError> {
        self.connection
            .prepare_cached(&format!("SELECT {KEPT} FROM inbox WHERE id = ?1"))
            .and_then(|mut select| select.query_one([id.number()], Kept::of))
            .doing("reading an inbox record")?
            .record()
    }

    /// The newest mail of the inbox that was set aside, newest first, at most `limit`.
    ///
    /// # Errors
    /// When a record cannot be read.
    pub fn received_set_aside(&self, limit: u32) -> Result<Vec<InboxRecord>, StoreError> {
        self.connection
            .prepare_cached(&format!(
                "SELECT {KEPT} FROM inbox WHERE status = 'set-aside' ORDER BY id DESC LIMIT ?1"
            ))
            .and_then(|mut select| select.query_all([limit], Kept::of))
            .doing("reading inbox records")?
            .into_iter()
            .map(Kept::record)
            .collect()
    }

    /// Whether any mail waits to be worked on, or has been begun.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn does_received_wait(&self) -> Result<bool, StoreError> {
        // One step into the index for each: a list of both would go through a table of its own.
        self.connection
            .prepare_cached(
                "SELECT EXISTS (SELECT 1 FROM inbox INDEXED BY inbox_waiting
                                WHERE status IN ('new', 'taken') AND status = 'new')
                     OR EXISTS (SELECT 1 FROM inbox INDEXED BY inbox_waiting
                                WHERE status IN ('new', 'taken') AND status = 'taken')",
            )
            .and_then(|mut select| select.query_one((), |row| row.get(0)))
            .doing("counting the inbox")
    }

    /// How much mail waits to be worked on, and since when.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn received_waiting(&self) -> Result<(u64, Option<Instant>), StoreError> {
        let (count, oldest): (i64, Option<i64>) = self
            .connection
            .prepare_cached(
                "SELECT count(*), min(received_at_utc_ms) FROM inbox INDEXED BY inbox_waiting
                 WHERE status IN ('new', 'taken')",
            )
            .and_then(|mut select| select.query_one((), |row| Ok((row.get(0)?, row.get(1)?))))
            .doing("counting the inbox")?;
        Ok((count as u64, oldest.map(from_ms).transpose()?))
    }

    /// The bytes of a mail; none where they were erased.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn raw_received(&self, id: InboxId) -> Result<Option<Vec<u8>>, StoreError> {
        self.connection
            .prepare_cached("SELECT raw FROM inbox_mail WHERE inbox = ?1")
            .and_then(|mut select| select.query_one([id.number()], |row| row.get(0)).optional())
            .doing("reading a mail of the inbox")
    }
}

const KEPT: &str =
    "id, received_at_utc_ms, status, attempts, note, follow_up, person_kind, person_ref";

struct Kept {
    id: i64,
    received_at_ms: i64,
    status: String,
    attempts: u32,
    note: String,
    follow_up: Option<i64>,
    person: (Option<String>, Option<String>),
}

impl Kept {
    fn of(row: &Row<'_>) -> database::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            received_at_ms: row.get(1)?,
            status: row.get(2)?,
            attempts: row.get(3)?,
            note: row.get(4)?,
            follow_up: row.get(5)?,
            person: (row.get(6)?, row.get(7)?),
        })
    }

    fn record(self) -> Result<InboxRecord, StoreError> {
        let status = match self.status.as_str() {
            "new" => InboxStatus::New,
            "taken" => InboxStatus::Taken,
            "filed" => InboxStatus::Filed,
            "set-aside" => InboxStatus::SetAside,
            _ => return Err(StoreError::unreadable("inbox record", self.id)),
        };
        let (kind, reference) = self.person;
        Ok(InboxRecord {
            id: InboxId::from_number(self.id),
            received_at: from_ms(self.received_at_ms)?,
            status,
            attempts: self.attempts,
            note: self.note,
            follow_up: self.follow_up.map(FollowUpId::from_number),
            person: kind.map(|kind| PersonRef::kept(&kind, reference.as_deref())).transpose()?,
        })
    }
}
