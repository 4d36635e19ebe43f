//! What made something happen, kept beside the journal so that every entry can be traced.
//!
//! Never here: names, addresses, words of people; `detail` holds references only.
//! Promises: an occasion once kept is never changed.

use super::database::{self, Row, params};
use serde_json::Value;

use super::chain::{self, Digest};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, InboxId, OccasionId, OutboxId, from_ms, to_ms};
use super::view::{Tx, View};
use crate::follow_up::Instant;

/// What made something happen: a due time, a reply, a command, a clinic-level act.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OccasionRecord {
    /// The follow-up that it is about, where it is about one alone. A due time may serve many.
    pub follow_up: Option<FollowUpId>,
    /// What kind, in a word or two, such as `due`, `reply`, `decide`, `cover`.
    pub kind: String,
    /// When.
    pub at: Instant,
    /// The references behind it, such as the inbox number or who gave a command.
    pub detail: Value,
}

/// An occasion that the present transaction keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeptOccasion {
    /// Its number.
    pub id: OccasionId,
    pub(super) digest: Digest,
}

impl OccasionRecord {
    /// The mail behind it, where it was one that came in.
    pub fn inbox(&self) -> Option<InboxId> {
        self.detail.get("inbox").and_then(Value::as_i64).map(InboxId::from_number)
    }

    /// The mail about several clients that is answered, where it is one.
    pub fn round(&self) -> Option<OutboxId> {
        self.detail.get("round").and_then(Value::as_i64).map(OutboxId::from_number)
    }

    /// The hash that binds entries to the occasion.
    pub(super) fn digest(&self) -> Digest {
        chain::of_occasion(&self.kind, to_ms(self.at), &self.detail.to_string())
    }
}

impl Tx<'_> {
    /// Keeps an occasion.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn add_occasion(&mut self, occasion: &OccasionRecord) -> Result<KeptOccasion, StoreError> {
        let detail = occasion.detail.to_string();
        self.connection
            .prepare_cached(
                "INSERT INTO occasion (follow_up, kind, at_utc_ms, detail) VALUES (?1, ?2, ?3, ?4)",
            )
            .and_then(|mut insert| {
                insert.insert(
                    "id",
                    params![
                        occasion.follow_up.map(FollowUpId::number),
                        occasion.kind,
                        to_ms(occasion.at),
                        detail,
                    ],
                )
            })
            .map(|id| KeptOccasion {
                id: OccasionId::from_number(id),
                digest: chain::of_occasion(&occasion.kind, to_ms(occasion.at), &detail),
            })
            .doing("keeping an occasion")
    }
}

impl View<'_> {
    /// An occasion by its number.
    ///
    /// # Errors
    /// When there is none, or it cannot be read.
    pub fn occasion(&self, id: OccasionId) -> Result<OccasionRecord, StoreError> {
        let row = self
            .connection
            .prepare_cached("SELECT follow_up, kind, at_utc_ms, detail FROM occasion WHERE id = ?1")
            .and_then(|mut select| select.query_one([id.number()], fields))
            .doing("reading an occasion")?;
        record(id, row)
    }

    /// The newest occasion, where there is any. Whatever is changed of a follow-up or of the clinic is
    /// kept with an occasion, so nothing has changed for as long as it stays the newest.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn newest_occasion(&self) -> Result<Option<OccasionId>, StoreError> {
        let id: Option<i64> = self
            .connection
            .prepare_cached("SELECT max(id) FROM occasion")
            .and_then(|mut select| select.query_one((), |row| row.get(0)))
            .doing("reading occasions")?;
        Ok(id.map(OccasionId::from_number))
    }

    /// The occasions after one of them, or all, each with its follow-up; none for what is about no follow-up
    /// alone.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn changed_since(
        &self,
        after: Option<OccasionId>,
    ) -> Result<Vec<(OccasionId, Option<FollowUpId>)>, StoreError> {
        let after = after.map_or(0, OccasionId::number);
        self.connection
            .prepare_cached("SELECT id, follow_up FROM occasion WHERE id > ?1")
            .and_then(|mut select| {
                select.query_all([after], |row| {
                    let follow_up = row.get::<Option<i64>>(1)?.map(FollowUpId::from_number);
                    Ok((OccasionId::from_number(row.get(0)?), follow_up))
                })
            })
            .doing("reading occasions")
    }

    /// Occasions of a kind, or of all kinds, from the newest back; at most `limit`.
    ///
    /// # Errors
    /// When one cannot be read.
    pub fn newest_occasions(
        &self,
        kind: Option<&str>,
        limit: u32,
    ) -> Result<Vec<(OccasionId, OccasionRecord)>, StoreError> {
        let rows = self
            .connection
            .prepare_cached(
                "SELECT follow_up, kind, at_utc_ms, detail, id FROM occasion
                 WHERE CAST(?1 AS TEXT) IS NULL OR kind = ?1 ORDER BY id DESC LIMIT ?2",
            )
            .and_then(|mut select| {
                select.query_all::<(i64, Fields)>(params![kind, limit], |row| {
                    Ok((row.get(4)?, fields(row)?))
                })
            })
            .doing("reading occasions")?;
        rows.into_iter()
            .map(|(id, row)| {
                let id = OccasionId::from_number(id);
                Ok((id, record(id, row)?))
            })
            .collect()
    }
}

type Fields = (Option<i64>, String, i64, String);

fn fields(row: &Row<'_>) -> database::Result<Fields> {
    Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
}

fn record(id: OccasionId, row: Fields) -> Result<OccasionRecord, StoreError> {
    let (follow_up, kind, at_ms, detail) = row;
    Ok(OccasionRecord {
        follow_up: follow_up.map(FollowUpId::from_number),
        kind,
        at: from_ms(at_ms)?,
        detail: serde_json::from_str(&detail).map_err(|source| StoreError::Unreadable {
            what: "occasion",
            id: id.to_string(),
            source: Some(source),
        })?,
    })
}
