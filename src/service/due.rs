//! Acts that are due: follow-up by follow-up, each thing at its own instant.
//!
//! Never here: waiting; working acts out beside the writer (`ahead`).
//! Promises: what is due a moment late is still journalled at its due time, so that a busy second
//! changes no clock; what is due long since waits for `waking`; a follow-up whose mail wants
//! pictures that are not drawn yet holds up no other, and nor does one that a bug of ours keeps due.

use std::collections::HashMap;

use chrono::TimeDelta;

use super::act::{Act, WorkedOut, work_out};
use super::ahead::Ahead;
use super::covering;
use super::error::ServiceError;
use super::office::Office;
use super::picturing::Commission;
use super::rounds::Gathering;
use crate::follow_up::{Basis, Instant, Occasion};
use crate::store::{FollowUpId, Loaded, StoreError, Tx, View};

/// How late something may be done and still count as done at its time. Longer than this, the
/// service was away (R26).
pub const LATE_MAX: TimeDelta = TimeDelta::minutes(2);

/// How many follow-ups one transaction takes, so that replies are taken in between.
pub const BATCH: u32 = 500;

/// What came of a batch.
#[derive(Clone, Debug, Default)]
pub struct Batch {
    /// How many follow-ups had something due.
    pub follow_ups: usize,
    /// Pictures that mail of some of them wants. Those follow-ups wait, and are due still, until
    /// the pictures are drawn.
    pub undrawn: Vec<Commission>,
    /// Those that stay due whatever is done: a bug of ours, which must be heard of.
    pub stuck: Vec<FollowUpId>,
}

impl Batch {
    pub(super) fn add(&mut self, other: Self) {
        self.follow_ups += other.follow_ups;
        self.undrawn.extend(other.undrawn);
        self.stuck.extend(other.stuck);
    }
}

/// Does what is due at or before now, for at most a batch of follow-ups.
///
/// # Errors
/// When the store refuses; then nothing of the batch has happened.
pub fn act_on_due(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<Batch, ServiceError> {
    covering::keep_up(office, tx, now)?;
    let due = tx.due_follow_ups(now, BATCH)?;
    act_on(office, tx, (due, HashMap::new()), now)
}

/// Does what is due at or before now for the follow-ups of a batch, with the acts that were worked out
/// ahead, so far as they still hold.
///
/// # Errors
/// As `act_on_due`.
pub fn act_on_ahead(
    office: &Office,
    tx: &mut Tx<'_>,
    now: Instant,
    mut ahead: Ahead,
) -> Result<Batch, ServiceError> {
    covering::keep_up(office, tx, now)?;
    let acts = ahead.still_holding(tx)?;
    act_on(office, tx, (ahead.due, acts), now)
}

fn act_on(
    office: &Office,
    tx: &mut Tx<'_>,
    (due, mut acts): (Vec<FollowUpId>, HashMap<FollowUpId, Box<DueAct>>),
    now: Instant,
) -> Result<Batch, ServiceError> {
    let mut batch = Batch { follow_ups: due.len(), ..Batch::default() };
    let gathering = Gathering::default();
    for follow_up in due {
        let first = acts.remove(&follow_up);
        match act_until_now(office, tx, (follow_up, first), now, &gathering) {
            Err(ServiceError::Undrawn(wanted)) => batch.undrawn.extend(wanted),
            Err(ServiceError::TurnsWithoutEnd { follow_up }) => batch.stuck.push(follow_up),
            done => done?,
        }
    }
    gathering.join(office, tx, now)?;
    Ok(batch)
}

/// When there is something to do next: a follow-up's due time, or another cover.
///
/// # Errors
/// When the store cannot be read.
pub fn next(office: &Office, view: &View<'_>) -> Result<Option<Instant>, StoreError> {
    let times = [view.earliest_due()?, covering::next_change(office, view)?];
    Ok(times.into_iter().flatten().min())
}

/// What is due first for a follow-up, worked out.
#[derive(Debug)]
pub(super) struct DueAct {
    due: Instant,
    worked_out: WorkedOut,
}

/// Works out what is due first for a follow-up; hands it back where nothing is.
///
/// # Errors
/// As `work_out`.
pub(super) fn first_due(
    office: &Office,
    view: &View<'_>,
    loaded: Loaded,
    now: Instant,
) -> Result<Result<Box<DueAct>, Loaded>, ServiceError> {
    let plan = office.plan(view, &loaded.plan)?;
    let cover = covering::cover(office, view, &loaded.state, now)?;
    let next_due = loaded.state.next_due(&Basis { plan: &plan, cover: &cover });
    let Some(due) = next_due.filter(|due| *due <= now) else { return Ok(Err(loaded)) };
    let at = if now - due <= LATE_MAX { due } else { now };
    let clock = Act {
        occasion: &Occasion::Clock,
        kind: "due",
        detail: serde_json::json!({}),
        at,
        words: None,
    };
    let worked_out = work_out(office, view, loaded, &plan, &clock)?;
    Ok(Ok(Box::new(DueAct { due, worked_out })))
}

/// Does everything that is due for one follow-up.
fn act_until_now(
    office: &Office,
    tx: &mut Tx<'_>,
    (follow_up, mut first): (FollowUpId, Option<Box<DueAct>>),
    now: Instant,
    gathering: &Gathering,
) -> Result<(), ServiceError> {
    loop {
        let next = match first.take() {
            Some(first) => first,
            None => match first_due(office, tx, office.load(tx, follow_up)?, now)? {
                Ok(next) => next,
                Err(loaded) => {
                    office.lay_back(loaded);
                    return Ok(());
                }
            },
        };
        let DueAct { due, worked_out } = *next;
        match worked_out.write_down(office, tx, Some(gathering))?.next_due {
            Some(next) if next <= due => {
                return Err(ServiceError::TurnsWithoutEnd { follow_up });
            }
            Some(next) if next <= now => {}
            _ => return Ok(()),
        }
    }
}
