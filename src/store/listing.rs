//! The list of all follow-ups, without decoding a single state.
//!
//! Never here: names of people, wording.
//! Promises: a line says what the state says, as of the last change.

use super::database::{self, Row, params};
use super::error::{Doing, StoreError};
use super::ids::{FollowUpId, from_ms};
use super::view::View;
use crate::care::{ClientRef, PlanVersion};
use crate::follow_up::{Instant, StepNumber};

/// Whether sitting goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ListedStanding {
    /// Sitting goes on.
    Open,
    /// Suspended after missed looks.
    Suspended,
    /// Stopped until a clinician lifts it.
    Stopped,
    /// Paused until a clinician ends the pause.
    Paused,
    /// Ended.
    Closed,
}

/// Whether somebody has to act on an alert.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ListedAlert {
    /// There is none.
    None,
    /// Not acknowledged.
    Open,
    /// Acknowledged but not decided.
    Acknowledged,
}

/// One follow-up in the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// Which one.
    pub follow_up: FollowUpId,
    /// The clinic's reference for the client.
    pub client: ClientRef,
    /// The plan's version.
    pub plan: PlanVersion,
    /// When the client was enrolled.
    pub enrolled_at: Instant,
    /// How many entries its journal has.
    pub entries: u64,
    /// When something is due next.
    pub next_due: Option<Instant>,
    /// Whether sitting goes on.
    pub standing: ListedStanding,
    /// The step; none in the routine phase.
    pub step: Option<StepNumber>,
    /// Whether somebody has to act on an alert.
    pub alert: ListedAlert,
}

impl View<'_> {
    /// The follow-ups after a given one in the order of enrolment, at most `limit`; begin with
    /// none.
    ///
    /// # Errors
    /// When a row cannot be read.
    pub fn follow_ups(
        &self,
        after: Option<FollowUpId>,
        limit: u32,
    ) -> Result<Vec<Listed>, StoreError> {
        self.connection
            .prepare_cached(
                "SELECT id, client_ref, plan, enrolled_at_utc_ms, entries, next_due_at_utc_ms,
                   standing, step, alert
                 FROM follow_up WHERE id > ?1 ORDER BY id LIMIT ?2",
            )
            .and_then(|mut select| {
                let after = after.map_or(0, FollowUpId::number);
                select.query_all(params![after, limit], Kept::of)
            })
            .doing("listing the follow-ups")?
            .into_iter()
            .map(Kept::listed)
            .collect()
    }
}

struct Kept {
    id: i64,
    client: String,
    plan: String,
    enrolled_at_ms: i64,
    entries: i64,
    next_due_ms: Option<i64>,
    standing: String,
    step: Option<u32>,
    alert: String,
}

impl Kept {
    fn of(row: &Row<'_>) -> database::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            client: row.get(1)?,
            plan: row.get(2)?,
            enrolled_at_ms: row.get(3)?,
            entries: row.get(4)?,
            next_due_ms: row.get(5)?,
            standing: row.get(6)?,
            step: row.get(7)?,
            alert: row.get(8)?,
        })
    }

    fn listed(self) -> Result<Listed, StoreError> {
        let unreadable = || StoreError::unreadable("the row of follow-up", self.id);
        let standing = match self.standing.as_str() {
            "open" => ListedStanding::Open,
            "suspended" => ListedStanding::Suspended,
            "stopped" => ListedStanding::Stopped,
            "paused" => ListedStanding::Paused,
            "closed" => ListedStanding::Closed,
            _ => return Err(unreadable()),
        };
        let alert = match self.alert.as_str() {
            "none" => ListedAlert::None,
            "open" => ListedAlert::Open,
            "acknowledged" => ListedAlert::Acknowledged,
            _ => return Err(unreadable()),
        };
        Ok(Listed {
            follow_up: FollowUpId::from_number(self.id),
            client: ClientRef::new(&self.client).map_err(|_| unreadable())?,
            plan: PlanVersion::from_hash(self.plan),
            enrolled_at: from_ms(self.enrolled_at_ms)?,
            entries: self.entries as u64,
            next_due: self.next_due_ms.map(from_ms).transpose()?,
            standing,
            step: self.step.map(StepNumber::new),
            alert,
        })
    }
}
