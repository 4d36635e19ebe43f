//! How much came and went lately: counts that limits are held against.
//!
//! Never here: the limits themselves.
//! Promises: counts are of what is committed.

use super::database::params;
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, to_ms};
use super::people::PersonRef;
use super::view::View;
use crate::follow_up::Instant;

impl View<'_> {
    /// How many mails of one person about one follow-up came since an instant and are worked through.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn received_since(
        &self,
        follow_up: FollowUpId,
        person: &PersonRef,
        since: Instant,
        look_back: u32,
    ) -> Result<u32, StoreError> {
        // By the newest numbers back, which need no index of their own.
        self.connection
            .prepare_cached(
                "SELECT count(*) FROM (SELECT * FROM inbox ORDER BY id DESC LIMIT ?5) AS newest
                 WHERE follow_up = ?1 AND person_kind = ?2 AND person_ref IS NOT DISTINCT FROM ?3
                   AND received_at_utc_ms > ?4 AND status IN ('filed', 'set-aside')",
            )
            .and_then(|mut select| {
                let (kind, reference) = (person.kind(), person.reference());
                let since = to_ms(since);
                select.query_one(
                    params![follow_up.number(), kind, reference, since, look_back],
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
                "SELECT count(*) FROM (SELECT * FROM outbox ORDER BY id DESC LIMIT ?2) AS newest
                 WHERE follow_up IS NULL AND created_at_utc_ms > ?1",
            )
            .and_then(|mut select| {
                select.query_one(params![to_ms(since), look_back], |row| row.get(0))
            })
            .doing("counting mail")
    }
}
