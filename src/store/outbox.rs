//! Mail to people: kept with the facts that call for it, sent from here until it has gone.
//!
//! Never here: SMTP, how long to wait before the next try.
//! Promises: the most urgent goes first, then the longest waiting; a mail is claimed by one
//! sender; after a crash what was being sent is sent again under its own Message-ID, since a
//! second copy is better than none.

use std::sync::LazyLock;

use super::database::{OptionalExtension, Row, params};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, JournalSeq, OutboxId, from_ms, to_ms};
use super::mails::{ClaimedMail, KEPT, Kept, MailRecord, NewMail, Urgency};
use super::tokens::RequestTarget;
use super::view::{Tx, View};
use crate::follow_up::Instant;

impl Tx<'_> {
    /// Puts a mail in, to be tried at once.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn put_mail(&mut self, mail: &NewMail, now: Instant) -> Result<OutboxId, StoreError> {
        let doing = "putting mail in the outbox";
        let id = self
            .connection
            .prepare_cached(
                "INSERT INTO outbox (follow_up, cause, person_kind, person_ref, target,
                   target_number, urgency, created_at_utc_ms, next_try_at_utc_ms, attempts, status)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?8, 0, 'queued')",
            )
            .and_then(|mut insert| {
                insert.insert(
                    "id",
                    params![
                        mail.follow_up.map(FollowUpId::number),
                        mail.cause.map(JournalSeq::number),
                        mail.person.kind(),
                        mail.person.reference(),
                        mail.target.name(),
                        mail.target.number(),
                        mail.urgency.rank(),
                        to_ms(now),
                    ],
                )
            })
            .doing(doing)?;
        self.connection
            .prepare_cached(
                "INSERT INTO outbox_mail (outbox, raw, sender, address, message_id)
                 VALUES (?1, ?2, ?3, ?4, ?5)",
            )
            .and_then(|mut insert| {
                insert.execute(params![id, mail.raw, mail.sender, mail.address, mail.message_id])
            })
            .doing(doing)?;
        Ok(OutboxId::from_number(id))
    }

    /// Claims mail whose time has come, the most urgent first, then the longest waiting; at most
    /// `limit`. From then on it counts as being sent.
    ///
    /// # Errors
    /// When the database refuses, or a mail cannot be read.
    pub fn claim_mail(&mut self, now: Instant, limit: u32) -> Result<Vec<ClaimedMail>, StoreError> {
        let mut claimed = Vec::new();
        for (urgency, first) in Urgency::ALL.into_iter().zip(self.tries(&EARLIEST)?) {
            // As a rule one urgency alone has mail.
            if first.is_none_or(|first| first > to_ms(now)) {
                continue;
            }
            let left = i64::from(limit) - claimed.len() as i64;
            for id in self.waiting(urgency, now, left)? {
                claimed.push(self.claimed(id)?);
                self.connection
                    .prepare_cached(
                        "UPDATE outbox SET status = 'sending', attempts = attempts + 1
                         WHERE id = ?1",
                    )
                    .and_then(|mut update| update.execute([id]))
                    .doing("claiming mail")?;
            }
        }
        Ok(claimed)
    }

    /// Notes that a server has accepted a mail.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn mark_sent(&mut self, id: OutboxId, now: Instant) -> Result<(), StoreError> {
        self.end_mail(id, "sent", None, now)
    }

    /// Notes that a mail was refused for good, and the class of the refusal (no address, no
    /// words).
    ///
    /// # Errors
    /// When the database refuses.
    pub fn mark_refused(
        &mut self,
        id: OutboxId,
        class: &str,
        now: Instant,
    ) -> Result<(), StoreError> {
        self.end_mail(id, "refused", Some(class), now)
    }

    /// Puts a mail that could not be sent back in the queue, and notes the class of the refusal
    /// (no address, no words).
    ///
    /// # Errors
    /// When the database refuses.
    pub fn retry_mail(
        &mut self,
        id: OutboxId,
        next_try: Instant,
        class: &str,
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "UPDATE outbox SET status = 'queued', next_try_at_utc_ms = ?2, last_error = ?3
                 WHERE id = ?1 AND status = 'sending'",
            )
            .and_then(|mut update| update.execute(params![id.number(), to_ms(next_try), class]))
            .map(|_| ())
            .doing("putting mail back in the queue")
    }

    /// Brings forward mail whose next try lies beyond an instant: after the clock was set back it
    /// would wait for as long as that. Returns how many there were.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn hasten_mail(&mut self, beyond: Instant, now: Instant) -> Result<usize, StoreError> {
        self.connection
            .prepare_cached(
                "UPDATE outbox SET next_try_at_utc_ms = ?2
                 WHERE status = 'queued' AND next_try_at_utc_ms > ?1",
            )
            .and_then(|mut update| update.execute(params![to_ms(beyond), to_ms(now)]))
            .doing("bringing mail forward")
    }

    /// Withdraws the mail about a request that still waits in the queue; what a sender already
    /// has goes out. Returns how many were withdrawn.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn withdraw_mail(
        &mut self,
        follow_up: FollowUpId,
        target: RequestTarget,
        now: Instant,
    ) -> Result<usize, StoreError> {
        self.dissolve_rounds(follow_up, Some(target), now)?;
        self.connection
            .prepare_cached(
                "UPDATE outbox SET status = 'withdrawn', ended_at_utc_ms = ?4
                 WHERE status = 'queued' AND follow_up = ?1 AND target = ?2
                   AND target_number IS NOT DISTINCT FROM ?3",
            )
            .and_then(|mut update| {
                update.execute(params![
                    follow_up.number(),
                    target.name(),
                    target.number(),
                    to_ms(now),
                ])
            })
            .doing("withdrawing mail")
    }

    /// At the start of the service: puts what was being sent when the last one ended back in the
    /// queue. Returns how many there were.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn requeue_unfinished_mail(&mut self) -> Result<usize, StoreError> {
        self.connection
            .execute("UPDATE outbox SET status = 'queued' WHERE status = 'sending'", ())
            .doing("putting mail back in the queue")
    }

    fn waiting(&self, urgency: Urgency, now: Instant, limit: i64) -> Result<Vec<i64>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT id FROM outbox INDEXED BY outbox_queue
                 WHERE status = 'queued' AND urgency = ?1 AND next_try_at_utc_ms <= ?2
                 ORDER BY next_try_at_utc_ms, id LIMIT ?3",
            )
            .and_then(|mut select| {
                select.query_all(params![urgency.rank(), to_ms(now), limit], |row| row.get(0))
            })
            .doing("claiming mail")
    }

    fn claimed(&self, id: i64) -> Result<ClaimedMail, StoreError> {
        let (kept, sender, address, message_id, raw) = self
            .connection
            .prepare_cached(&format!(
                "SELECT {KEPT}, sender, address, message_id, raw
                 FROM outbox JOIN outbox_mail ON outbox = id WHERE id = ?1"
            ))
            .and_then(|mut select| {
                select.query_one([id], |row| {
                    Ok((Kept::of(row)?, row.get(12)?, row.get(13)?, row.get(14)?, row.get(15)?))
                })
            })
            .doing("claiming mail")?;
        let MailRecord {
            id, follow_up, cause, person, target, urgency, created_at, attempts, ..
        } = kept.record()?;
        let mail =
            NewMail { follow_up, cause, person, target, sender, address, message_id, urgency, raw };
        Ok(ClaimedMail { id, mail, created_at, attempts })
    }

    fn end_mail(
        &self,
        id: OutboxId,
        status: &str,
        class: Option<&str>,
        now: Instant,
    ) -> Result<(), StoreError> {
        self.connection
            .prepare_cached(
                "UPDATE outbox SET status = ?2, last_error = ?3, ended_at_utc_ms = ?4
                 WHERE id = ?1 AND status IN ('queued', 'sending')",
            )
            .and_then(|mut update| update.execute(params![id.number(), status, class, to_ms(now)]))
            .doing("noting how a mail went")?;
        self.end_parts(id, status, class, now)
    }
}

/// How much mail waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutboxCounts {
    /// Waiting for a try.
    pub queued: u64,
    /// With a sender.
    pub sending: u64,
    /// When the longest waiting was put in.
    pub oldest: Option<Instant>,
}

impl View<'_> {
    /// When the next mail is to be tried, where any waits.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn next_try(&self) -> Result<Option<Instant>, StoreError> {
        self.tries(&EARLIEST)?.into_iter().flatten().min().map(from_ms).transpose()
    }

    /// When the last of the waiting mail is to be tried, where any waits.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn last_try(&self) -> Result<Option<Instant>, StoreError> {
        self.tries(&LATEST)?.into_iter().flatten().max().map(from_ms).transpose()
    }

    /// The time that a question for each urgency's gives, in their order; nothing where no mail waits.
    fn tries(&self, sql: &str) -> Result<Vec<Option<i64>>, StoreError> {
        let all =
            |row: &Row<'_>| (0..Urgency::ALL.len()).map(|at| row.get(at)).collect::<Result<_, _>>();
        let tries = self
            .connection
            .prepare_cached(sql)
            .and_then(|mut select| select.query_one((), all).optional())
            .doing("looking for mail to be tried")?;
        Ok(tries.unwrap_or_default())
    }

    /// How much mail waits.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn outbox_counts(&self) -> Result<OutboxCounts, StoreError> {
        let (queued, sending, oldest) = self
            .connection
            .prepare_cached(
                "SELECT (SELECT count(*) FROM outbox WHERE status = 'queued'),
                        (SELECT count(*) FROM outbox WHERE status = 'sending'),
                        (SELECT min(created_at_utc_ms) FROM outbox WHERE status = 'queued')",
            )
            .and_then(|mut select| {
                select
                    .query_one((), |row| Ok((row.get::<i64>(0)?, row.get::<i64>(1)?, row.get(2)?)))
            })
            .doing("counting mail")?;
        let oldest = Option::<i64>::map(oldest, from_ms).transpose()?;
        Ok(OutboxCounts { queued: queued as u64, sending: sending as u64, oldest })
    }
}

static EARLIEST: LazyLock<String> = LazyLock::new(|| of_all_urgencies("min"));
static LATEST: LazyLock<String> = LazyLock::new(|| of_all_urgencies("max"));

/// The question for the least or greatest time of the waiting mail of each urgency: one step into the
/// queue for each, in one statement, since every loop of the service asks it all the time. Columns,
/// not rows: those would go through a table of their own, whose making took most of the time. The queue
/// is empty most of the time, and that takes a single step to see.
fn of_all_urgencies(least_or_greatest: &str) -> String {
    let each = Urgency::ALL.map(|urgency| {
        format!(
            "(SELECT {least_or_greatest}(next_try_at_utc_ms)
              FROM outbox INDEXED BY outbox_queue
              WHERE status = 'queued' AND urgency = {})",
            urgency.rank()
        )
    });
    format!(
        "SELECT {} WHERE EXISTS (SELECT 1 FROM outbox INDEXED BY outbox_queue
                                 WHERE status = 'queued')",
        each.join(", ")
    )
}
