//! Rounds: mails about several clients that go to one person as one.
//!
//! The mail of each client, with its own token, is put in first; the round carries them.
//!
//! Never here: what a round says, who may be in one.
//! Promises: a part that is carried is not sent by itself, and shares the fate of its round; where a
//! part is withdrawn before the round has left, the others go by themselves.

use super::database::params;
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, OutboxId, to_ms};
use super::mails::MailRecord;
use super::tokens::RequestTarget;
use super::view::{Tx, View};
use crate::care::ClientRef;
use crate::follow_up::Instant;

impl Tx<'_> {
    /// Lets a round that was put in carry mails that wait.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn carry(&mut self, round: OutboxId, parts: &[OutboxId]) -> Result<(), StoreError> {
        for part in parts {
            self.connection
                .prepare_cached("INSERT INTO round_part (round, part) VALUES (?1, ?2)")
                .and_then(|mut insert| insert.execute(params![round.number(), part.number()]))
                .doing("joining mails")?;
            self.connection
                .prepare_cached(
                    "UPDATE outbox SET status = 'carried' WHERE id = ?1 AND status = 'queued'",
                )
                .and_then(|mut update| update.execute([part.number()]))
                .doing("joining mails")?;
        }
        Ok(())
    }

    /// Takes the rounds apart that carry mail of a follow-up, about a request or any, and have not
    /// left: each part waits by itself again.
    pub(super) fn dissolve_rounds(
        &mut self,
        follow_up: FollowUpId,
        target: Option<RequestTarget>,
        now: Instant,
    ) -> Result<(), StoreError> {
        let doing = "taking joined mails apart";
        let parts: Vec<(i64, String, Option<u32>)> = self
            .connection
            .prepare_cached(
                "SELECT id, target, target_number FROM outbox
                 WHERE status = 'carried' AND follow_up = ?1",
            )
            .and_then(|mut select| {
                select.query_all([follow_up.number()], |row| {
                    Ok((row.get(0)?, row.get(1)?, row.get(2)?))
                })
            })
            .doing(doing)?;
        for (part, name, number) in parts {
            if target.is_some_and(|target| (target.name(), target.number()) != (&name, number)) {
                continue;
            }
            self.connection
                .prepare_cached(
                    "UPDATE outbox SET status = 'queued', next_try_at_utc_ms = ?2
                     WHERE status = 'carried' AND id IN (SELECT part FROM round_part
                       WHERE round IN (SELECT round FROM round_part
                                       JOIN outbox AS whole ON whole.id = round
                                       WHERE part = ?1 AND whole.status = 'queued'))",
                )
                .and_then(|mut update| update.execute(params![part, to_ms(now)]))
                .doing(doing)?;
            self.connection
                .prepare_cached(
                    "UPDATE outbox SET status = 'withdrawn', ended_at_utc_ms = ?2
                     WHERE status = 'queued'
                       AND id IN (SELECT round FROM round_part WHERE part = ?1)",
                )
                .and_then(|mut update| update.execute(params![part, to_ms(now)]))
                .doing(doing)?;
        }
        Ok(())
    }

    /// Lets the parts of a round that ended end as it did.
    pub(super) fn end_parts(
        &self,
        round: OutboxId,
        status: &str,
        class: Option<&str>,
        now: Instant,
    ) -> Result<(), StoreError> {
        // Asked first: nearly every mail that ends is no round, and the list of the parts is a table of
        // its own, whose making took most of the time that noting a mail's end took.
        let is_round: bool = self
            .connection
            .prepare_cached("SELECT EXISTS (SELECT 1 FROM round_part WHERE round = ?1)")
            .and_then(|mut select| select.query_one([round.number()], |row| row.get(0)))
            .doing("noting how a mail went")?;
        if !is_round {
            return Ok(());
        }
        self.connection
            .prepare_cached(
                "UPDATE outbox SET status = ?2, last_error = ?3, ended_at_utc_ms = ?4
                 WHERE status = 'carried'
                   AND id IN (SELECT part FROM round_part WHERE round = ?1)",
            )
            .and_then(|mut update| {
                update.execute(params![round.number(), status, class, to_ms(now)])
            })
            .map(|_| ())
            .doing("noting how a mail went")
    }
}

impl View<'_> {
    /// The clinic's reference for the client of a follow-up.
    ///
    /// # Errors
    /// When there is no such follow-up, or it cannot be read.
    pub fn client_of(&self, follow_up: FollowUpId) -> Result<ClientRef, StoreError> {
        let reference: String = self
            .connection
            .prepare_cached("SELECT client_ref FROM follow_up WHERE id = ?1")
            .and_then(|mut select| select.query_one([follow_up.number()], |row| row.get(0)))
            .doing("looking a client up")?;
        ClientRef::new(&reference).map_err(|_| StoreError::unreadable("client", &reference))
    }

    /// The mails that a round carries or carried, in order; none where the mail is no round.
    ///
    /// # Errors
    /// When one cannot be read.
    pub fn parts_of(&self, round: OutboxId) -> Result<Vec<MailRecord>, StoreError> {
        let parts: Vec<i64> = self
            .connection
            .prepare_cached("SELECT part FROM round_part WHERE round = ?1 ORDER BY part")
            .and_then(|mut select| select.query_all([round.number()], |row| row.get(0)))
            .doing("reading joined mails")?;
        parts.into_iter().map(|part| self.mail(OutboxId::from_number(part))).collect()
    }
}
