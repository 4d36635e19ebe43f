//! Erasing personal data, so that it is gone from the file itself, while the journal stays and verifies.
//!
//! Never here: when and whose data is erased; copies and backups, which are files of their own.
//! Promises: erasing is one transaction, and is itself kept as an occasion with no personal data; the
//! journal and what its hashes cover are not touched; after `scrub` nothing that was erased or
//! overwritten is left in any byte of the database file or of its log.

use std::time::Duration;

use super::connection;
use super::data_key::DataFile;
use super::database::params;
use super::error::{Doing, StoreError};
use super::folder::DATABASE;
use super::ids::{FollowUpId, to_ms};
use super::occasions::OccasionRecord;
use super::opened::Store;
use super::view::{Tx, View};
use crate::follow_up::Instant;

/// What was erased of one follow-up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Forgotten {
    /// Names and addresses of contacts, and what the client is called.
    pub people: usize,
    /// Fittings, which hold names and free words.
    pub fittings: usize,
    /// Kept mails, both ways.
    pub mails: usize,
    /// Tokens of requests.
    pub tokens: usize,
}

/// The kind of the occasion that records an erasing.
const FORGOTTEN: &str = "forgotten";

/// The tables that personal data is erased from, written anew on a server. Its log and its own
/// copies are the server's matter.
const REWRITTEN: &str = "SET lock_timeout = '60s'; \
    VACUUM (FULL) person, client_person, fitting, inbox_mail, outbox_mail, outbox, token";

/// How often, and after what wait, the log is tried to be emptied while others read.
const EMPTYING: (u32, Duration) = (100, Duration::from_millis(100));

/// Erases mail of nobody known that quotes an address.
const QUOTING_IN_A_FILE: &str =
    "DELETE FROM inbox_mail WHERE instr(lower(CAST(raw AS TEXT)), ?1) > 0
       AND inbox IN (SELECT id FROM inbox WHERE follow_up IS NULL
                       AND status IN ('filed', 'set-aside'))";
/// The same where bytes that are no text cannot be taken for one: compared in a form that leaves
/// ASCII as it is.
const QUOTING_ON_A_SERVER: &str = "DELETE FROM inbox_mail
     WHERE position(encode(convert_to(?1, 'UTF8'), 'escape') IN lower(encode(raw, 'escape'))) > 0
       AND inbox IN (SELECT id FROM inbox WHERE follow_up IS NULL
                       AND status IN ('filed', 'set-aside'))";

impl Tx<'_> {
    /// Erases what is kept of the people around one follow-up: names, addresses, fittings, mails,
    /// tokens. Notices about the clinic as a whole may quote anybody, so their kept copies go too
    /// where they have left. The journal stays, with its references.
    ///
    /// # Errors
    /// `Busy` while a mail about it is being sent; else when the database refuses.
    pub fn forget(
        &mut self,
        follow_up: FollowUpId,
        by: &str,
        now: Instant,
    ) -> Result<Forgotten, StoreError> {
        self.dissolve_rounds(follow_up, None, now)?;
        let addresses = self.addresses_of(follow_up)?;
        let id = follow_up.number();
        let is_under_way: bool = self
            .connection
            .query_row(
                "SELECT EXISTS (SELECT 1 FROM outbox
                   WHERE follow_up = ?1 AND (status = 'sending' OR status = 'carried'))",
                [id],
                |row| row.get(0),
            )
            .doing("erasing personal data")?;
        if is_under_way {
            // A sender has it in hand and notes the outcome by its record.
            return Err(StoreError::Busy { doing: "erasing personal data: a mail is being sent" });
        }
        self.connection
            .execute(
                "UPDATE outbox SET status = 'withdrawn', ended_at_utc_ms = ?2
                 WHERE follow_up = ?1 AND status = 'queued'",
                params![id, to_ms(now)],
            )
            .doing("erasing personal data")?;
        let mut forgotten = Forgotten {
            mails: self.erase(
                "DELETE FROM outbox_mail WHERE outbox IN (SELECT id FROM outbox
                   WHERE follow_up = ?1
                      OR (follow_up IS NULL AND status NOT IN ('queued', 'sending')))",
                id,
            )? + self.erase(
                "DELETE FROM inbox_mail WHERE inbox IN (SELECT id FROM inbox
                   WHERE follow_up = ?1 AND status IN ('filed', 'set-aside'))",
                id,
            )?,
            ..Forgotten::default()
        };
        let quoting = match self.connection.postgres() {
            None => QUOTING_IN_A_FILE,
            Some(_) => QUOTING_ON_A_SERVER,
        };
        for address in &addresses {
            forgotten.mails +=
                self.connection.execute(quoting, [address]).doing("erasing personal data")?;
        }
        forgotten.tokens = self.erase("DELETE FROM token WHERE follow_up = ?1", id)?;
        forgotten.fittings = self.erase("DELETE FROM fitting WHERE follow_up = ?1", id)?;
        forgotten.people = self.erase("DELETE FROM person WHERE follow_up = ?1", id)?
            + self.erase("DELETE FROM client_person WHERE follow_up = ?1", id)?;
        self.add_occasion(&OccasionRecord {
            follow_up: Some(follow_up),
            kind: FORGOTTEN.to_owned(),
            at: now,
            detail: serde_json::json!({ "by": by }),
        })?;
        Ok(forgotten)
    }

    /// Erases mails that are done with and ended before an instant, at most `limit` each way. Mail
    /// that was set aside is among them: by then a person has looked, or never will. Returns how many.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn erase_mail_before(&mut self, before: Instant, limit: u32) -> Result<usize, StoreError> {
        let doing = "erasing old mail";
        // What is erased is overwritten in the file too. Rewriting the whole file every day would
        // hold alerts up for as long as that takes.
        if let Some(file) = self.connection.sqlite() {
            file.pragma_update(None, "secure_delete", true).doing(doing)?;
        }
        let sent = self
            .connection
            .execute(
                "DELETE FROM outbox_mail WHERE outbox IN (SELECT id FROM outbox
                   JOIN outbox_mail ON outbox = id WHERE ended_at_utc_ms < ?1 LIMIT ?2)",
                params![to_ms(before), limit],
            )
            .doing(doing)?;
        let received = self
            .connection
            .execute(
                "DELETE FROM inbox_mail WHERE inbox IN (SELECT id FROM inbox
                   JOIN inbox_mail ON inbox = id WHERE received_at_utc_ms < ?1
                     AND status IN ('filed', 'set-aside') LIMIT ?2)",
                params![to_ms(before), limit],
            )
            .doing(doing)?;
        Ok(sent + received)
    }

    fn erase(&self, sql: &str, follow_up: i64) -> Result<usize, StoreError> {
        self.connection.execute(sql, [follow_up]).doing("erasing personal data")
    }
}

impl View<'_> {
    /// Whether anything personal is kept of a follow-up beside mails.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn is_forgotten(&self, follow_up: FollowUpId) -> Result<bool, StoreError> {
        let is_kept: bool = self
            .connection
            .query_row(
                "SELECT EXISTS (SELECT 1 FROM person WHERE follow_up = ?1)
                     OR EXISTS (SELECT 1 FROM client_person WHERE follow_up = ?1)
                     OR EXISTS (SELECT 1 FROM fitting WHERE follow_up = ?1)",
                [follow_up.number()],
                |row| row.get(0),
            )
            .doing("looking for personal data")?;
        Ok(!is_kept)
    }

    fn addresses_of(&self, follow_up: FollowUpId) -> Result<Vec<String>, StoreError> {
        self.connection
            .prepare("SELECT mail_key FROM person WHERE follow_up = ?1")
            .and_then(|mut select| select.query_all([follow_up.number()], |row| row.get(0)))
            .doing("looking for personal data")
    }
}

impl Store {
    /// Writes the database anew without what was erased, and empties its log. Blocks; others may read
    /// and, but for some moments, write meanwhile.
    ///
    /// # Errors
    /// When the database cannot be rewritten, or others kept reading its log all the while: what was
    /// erased may then still lie in the file, and this is to be tried again.
    pub fn scrub(&self) -> Result<(), StoreError> {
        let doing = "rewriting the database";
        if let Some(server) = self.server() {
            return connection::open_session(server)?.batch(REWRITTEN).doing(doing);
        }
        let connection =
            connection::open_for_writing(&DataFile::new(self.folder().join(DATABASE), self.key()))?;
        connection.pragma_update(None, "secure_delete", true).doing(doing)?;
        connection.execute_batch("VACUUM").doing(doing)?;
        for _ in 0..EMPTYING.0 {
            let is_busy: bool = connection
                .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0))
                .doing(doing)?;
            if !is_busy {
                return Ok(());
            }
            std::thread::sleep(EMPTYING.1);
        }
        Err(StoreError::Busy { doing })
    }
}
