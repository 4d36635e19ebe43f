//! The fittings that a follow-up has tested, with names and free words.
//!
//! Never here: whether a fit is ready; the journal, which has versions only.
//! Promises: a fitting once added never changes; the newest is the one that is tested.

use super::database::{self, OptionalExtension, Row, params};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, from_ms, to_ms};
use super::view::{Tx, View};
use crate::care::fitting::{FittingVersion, FreeWords, InSpiteOf};
use crate::care::{ClinicianId, Fitting};
use crate::follow_up::Instant;

/// A fitting as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptFitting {
    /// Its place among the follow-up's fittings, counted from 1.
    pub number: u32,
    /// Its version, as the journal has it.
    pub version: FittingVersion,
    /// The record.
    pub fitting: Fitting,
    /// When it was kept.
    pub kept_at: Instant,
    /// Who began on it although it was not ready, and why.
    pub in_spite_of: Option<InSpiteOf>,
}

impl Tx<'_> {
    /// Adds a fitting of a follow-up, as its newest.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn add_fitting(
        &mut self,
        follow_up: FollowUpId,
        (version, fitting): (&FittingVersion, &Fitting),
        in_spite_of: Option<&InSpiteOf>,
        now: Instant,
    ) -> Result<(), StoreError> {
        let record =
            serde_json::to_string(fitting).expect("OK because a fitting always prints as JSON");
        self.connection
            .prepare_cached(
                "INSERT INTO fitting (follow_up, number, version, record, kept_at_utc_ms,
                   in_spite_by, in_spite_reason)
                 SELECT ?1, 1 + ifnull(max(number), 0), ?2, ?3, ?4, ?5, ?6
                 FROM fitting WHERE follow_up = ?1",
            )
            .and_then(|mut insert| {
                insert.execute(params![
                    follow_up.number(),
                    version.as_str(),
                    record,
                    to_ms(now),
                    in_spite_of.map(|decided| decided.by.as_str()),
                    in_spite_of.map(|decided| decided.reason.as_str()),
                ])
            })
            .map(|_| ())
            .doing("keeping a fitting")
    }
}

impl View<'_> {
    /// The fitting that a follow-up tests; none where none is on file.
    ///
    /// # Errors
    /// When the database refuses, or the record cannot be read.
    pub fn fitting(&self, follow_up: FollowUpId) -> Result<Option<KeptFitting>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT number, version, record, kept_at_utc_ms, in_spite_by, in_spite_reason
                 FROM fitting WHERE follow_up = ?1 ORDER BY number DESC LIMIT 1",
            )
            .and_then(|mut select| select.query_one([follow_up.number()], KeptRow::of).optional())
            .doing("reading a fitting")?
            .map(|row| row.kept(follow_up))
            .transpose()
    }

    /// All fittings of a follow-up, oldest first.
    ///
    /// # Errors
    /// When the database refuses, or a record cannot be read.
    pub fn fittings(&self, follow_up: FollowUpId) -> Result<Vec<KeptFitting>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT number, version, record, kept_at_utc_ms, in_spite_by, in_spite_reason
                 FROM fitting WHERE follow_up = ?1 ORDER BY number",
            )
            .and_then(|mut select| select.query_all([follow_up.number()], KeptRow::of))
            .doing("reading the fittings")?
            .into_iter()
            .map(|row| row.kept(follow_up))
            .collect()
    }
}

struct KeptRow {
    number: u32,
    version: String,
    record: String,
    kept_at_ms: i64,
    by: Option<String>,
    reason: Option<String>,
}

impl KeptRow {
    fn of(row: &Row<'_>) -> database::Result<Self> {
        Ok(Self {
            number: row.get(0)?,
            version: row.get(1)?,
            record: row.get(2)?,
            kept_at_ms: row.get(3)?,
            by: row.get(4)?,
            reason: row.get(5)?,
        })
    }

    fn kept(self, follow_up: FollowUpId) -> Result<KeptFitting, StoreError> {
        let unreadable = || StoreError::unreadable("a fitting of follow-up", follow_up);
        let fitting =
            serde_json::from_str(&self.record).map_err(|source| StoreError::Unreadable {
                what: "a fitting of follow-up",
                id: follow_up.to_string(),
                source: Some(source),
            })?;
        let in_spite_of = match (self.by, self.reason) {
            (Some(by), Some(reason)) => Some(InSpiteOf {
                by: ClinicianId::new(&by).map_err(|_| unreadable())?,
                reason: FreeWords::new(&reason).map_err(|_| unreadable())?,
            }),
            _ => None,
        };
        Ok(KeptFitting {
            number: self.number,
            version: FittingVersion::from_hash(self.version),
            fitting,
            kept_at: from_ms(self.kept_at_ms)?,
            in_spite_of,
        })
    }
}
