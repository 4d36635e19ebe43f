//! How far each mailbox on a server has been taken in.
//!
//! Never here: the mails themselves (the inbox has them).
//! Promises: the mark moves in the same transaction that puts the mail in.

use super::database::{OptionalExtension, params};
use super::error::{Doing, StoreError};
use super::view::{Tx, View};

/// A place in a mailbox: all mail up to it has been taken in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MailboxMark {
    /// The mailbox's UIDVALIDITY (RFC 9051, 2.3.1.1); another one makes all UIDs void.
    pub uid_validity: u32,
    /// The highest UID taken in.
    pub uid: u32,
}

impl Tx<'_> {
    /// Moves the mark of a mailbox.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn mark_mailbox(&mut self, mailbox: &str, mark: MailboxMark) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "INSERT INTO mailbox (name, uid_validity, uid) VALUES (?1, ?2, ?3)
                 ON CONFLICT (name) DO UPDATE SET
                   uid_validity = excluded.uid_validity, uid = excluded.uid",
            )
            .and_then(|mut put| put.execute(params![mailbox, mark.uid_validity, mark.uid]))
            .map(|_| ())
            .doing("noting how far a mailbox was read")
    }
}

impl View<'_> {
    /// The mark of a mailbox, where it has been read before.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn mailbox_mark(&self, mailbox: &str) -> Result<Option<MailboxMark>, StoreError> {
        self.connection
            .prepare_cached("SELECT uid_validity, uid FROM mailbox WHERE name = ?1")
            .and_then(|mut select| {
                select
                    .query_one([mailbox], |row| {
                        Ok(MailboxMark { uid_validity: row.get(0)?, uid: row.get(1)? })
                    })
                    .optional()
            })
            .doing("reading how far a mailbox was read")
    }
}
