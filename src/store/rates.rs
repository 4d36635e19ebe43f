//! How much came and went lately: counts that limits are held against.
//!
//! Never here: the limits themselves.
//! Promises: counts are of what is committed.

use super::database::params;
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, to_ms};
use super::inbox::SHORTENED;
use super::people::PersonRef;
use super::view::View;
use crate::follow_up::Instant;

/// Mail of people who are not on file and that belongs to no request.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StrangersMail {
    /// How many mails.
    pub mails: u32,
    /// How much of them is kept, in bytes.
    pub bytes: u64,
    /// Of how many only the head is kept.
    pub shortened: u32,
}

impl View<'_> {
    /// How many mails of one person about one follow-up came since an instant and are worked through.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn received_since(
        &self,
        follow_up: Option<FollowUpId>,
        person: &PersonRef,
        since: Instant,
        look_back: u32,
    ) -> Result<u32, StoreError> {
        // By the newest numbers back, which need no index of their own. The time is asked for first: it
        // rules out nearly all, and lies at the front of the row.
        self.connection
            .prepare_cached(
                "SELECT count(*) FROM inbox
                 WHERE id > (SELECT max(id) FROM inbox) - ?5 AND received_at_utc_ms > ?4
                   AND follow_up IS NOT DISTINCT FROM ?1 AND person_kind = ?2 AND person_ref IS NOT DISTINCT FROM ?3
                   AND status IN ('filed', 'set-aside')",
            )
            .and_then(|mut select| {
                let (kind, reference) = (person.kind(), person.reference());
                let since = to_ms(since);
                select.query_one(
                    params![follow_up.map(FollowUpId::number), kind, reference, since, look_back],
                    |row| row.get(0),
                )
            })
            .doing("counting mail")
    }

    /// How many notices about no follow-up were put in the outbox since an instant, among the newest
    /// `look_back` mails.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn desk_mail_since(&self, since: Instant, look_back: u32) -> Result<u32, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT count(*) FROM outbox
                 WHERE id > (SELECT max(id) FROM outbox) - ?2
                   AND follow_up IS NULL AND created_at_utc_ms > ?1",
            )
            .and_then(|mut select| {
                select.query_one(params![to_ms(since), look_back], |row| row.get(0))
            })
            .doing("counting mail")
    }

    /// The mail of strangers that came since an instant and is worked through, among the newest
    /// `look_back` mails.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn strangers_since(
        &self,
        since: Instant,
        look_back: u32,
    ) -> Result<StrangersMail, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT count(*), CAST(coalesce(sum(length(raw)), 0) AS BIGINT),
                   count(CASE WHEN note LIKE ?3 THEN 1 END)
                 FROM (SELECT * FROM inbox ORDER BY id DESC LIMIT ?2) AS newest
                   LEFT JOIN inbox_mail ON inbox_mail.inbox = newest.id
                 WHERE follow_up IS NULL AND person_kind IS NULL AND received_at_utc_ms > ?1
                   AND status IN ('filed', 'set-aside')",
            )
            .and_then(|mut select| {
                let shortened = format!("%{SHORTENED}");
                select.query_one(params![to_ms(since), look_back, shortened], |row| {
                    Ok(StrangersMail {
                        mails: row.get(0)?,
                        bytes: row.get::<i64>(1)?.unsigned_abs(),
                        shortened: row.get(2)?,
                    })
                })
            })
            .doing("counting mail")
    }
}
