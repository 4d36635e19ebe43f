//! All mails that are still kept of one follow-up, both ways.
//!
//! Never here: erasing them, reading them.
//! Promises: in the order of time; what was erased is missing.

use super::database::params;
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, from_ms};
use super::view::View;
use crate::follow_up::Instant;

/// A kept mail.
#[derive(Clone, PartialEq, Eq)]
pub struct KeptMail {
    /// When it was written or came.
    pub at: Instant,
    /// Whether it went to a person; else it came from one.
    pub is_outgoing: bool,
    /// Its bytes.
    pub raw: Vec<u8>,
}

/// Says nothing of the words.
impl std::fmt::Debug for KeptMail {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("KeptMail")
            .field("at", &self.at)
            .field("is_outgoing", &self.is_outgoing)
            .finish_non_exhaustive()
    }
}

impl View<'_> {
    /// The mails that are kept of a follow-up, the oldest first.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn kept_mails(&self, follow_up: FollowUpId) -> Result<Vec<KeptMail>, StoreError> {
        let kept = self
            .connection
            .prepare(
                "SELECT created_at_utc_ms AS at, 1, raw FROM outbox JOIN outbox_mail ON outbox = id
                   WHERE follow_up = ?1
                 UNION ALL
                 SELECT received_at_utc_ms, 0, raw FROM inbox JOIN inbox_mail ON inbox = id
                   WHERE follow_up = ?1
                 ORDER BY at",
            )
            .and_then(|mut select| {
                select.query_all::<(i64, bool, Vec<u8>)>(params![follow_up.number()], |row| {
                    Ok((row.get(0)?, row.get(1)?, row.get(2)?))
                })
            })
            .doing("reading kept mails")?;
        kept.into_iter()
            .map(|(at, is_outgoing, raw)| Ok(KeptMail { at: from_ms(at)?, is_outgoing, raw }))
            .collect()
    }
}
