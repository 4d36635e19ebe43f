//! Every version of a plan that a follow-up is, or was, pinned to.
//!
//! Never here: how a version's hash is worked out.
//! Promises: a version once added never changes.

use super::database::{OptionalExtension, params};
use super::error::{Doing, StoreError};
use super::ids::to_ms;
use super::view::{Tx, View};
use crate::care::{Plan, PlanVersion};
use crate::follow_up::Instant;

impl Tx<'_> {
    /// Adds a version of a plan; adding it again changes nothing.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn add_plan(
        &mut self,
        version: &PlanVersion,
        plan: &Plan,
        now: Instant,
    ) -> Result<(), StoreError> {
        let body = serde_json::to_string(plan).expect("OK because a plan always prints as JSON");
        self.connection
            .prepare_cached(
                "INSERT INTO plan (version, plan_id, body, added_at_utc_ms)
                 VALUES (?1, ?2, ?3, ?4) ON CONFLICT (version) DO NOTHING",
            )
            .and_then(|mut insert| {
                insert.execute(params![version.as_str(), plan.id, body, to_ms(now)])
            })
            .map(|_| ())
            .doing("adding a plan")
    }
}

impl View<'_> {
    /// The plan with a version.
    ///
    /// # Errors
    /// When the version was never added or cannot be read.
    pub fn plan(&self, version: &PlanVersion) -> Result<Plan, StoreError> {
        let body: Option<String> = self
            .connection
            .prepare_cached("SELECT body FROM plan WHERE version = ?1")
            .and_then(|mut select| {
                select.query_one([version.as_str()], |row| row.get(0)).optional()
            })
            .doing("reading a plan")?;
        let body = body.ok_or_else(|| StoreError::UnknownPlan { version: version.clone() })?;
        serde_json::from_str(&body).map_err(|source| StoreError::Unreadable {
            what: "plan",
            id: version.to_string(),
            source: Some(source),
        })
    }

    /// All versions that were added, oldest first.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn plan_versions(&self) -> Result<Vec<PlanVersion>, StoreError> {
        self.connection
            .prepare_cached("SELECT version FROM plan ORDER BY added_at_utc_ms, version")
            .and_then(|mut select| {
                select.query_all((), |row| row.get(0).map(PlanVersion::from_hash))
            })
            .doing("reading the plans")
    }
}
