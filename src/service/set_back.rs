//! A machine's clock that was set back: written down in every journal, so that no wait grows by it.
//!
//! While the service runs, a steady clock tells at once and by how much (`clock::ClockWatch`). At a
//! start it shows by what the last run wrote: a sign of life or an entry that lies ahead.
//!
//! Never here: which waits move (the core decides), looking at clocks.
//! Promises: each step is written down once, in one transaction with all that follows from it; the
//! clinic is told.

use super::act::{Act, act};
use super::due::LATE_MAX;
use super::error::ServiceError;
use super::office::Office;
use super::picturing::Commission;
use super::waking::tell_first_on_cover;
use crate::follow_up::{Instant, Noticed, Occasion};
use crate::store::{FollowUpId, ListedStanding, RememberedInstant, StoreError, Tx, Urgency, View};

/// Follow-ups that are listed in one go.
const LISTED: u32 = 500;

/// The clock was set back while the service runs: it would show `instead_of`.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn noticed_at_once(
    office: &Office,
    tx: &mut Tx<'_>,
    instead_of: Instant,
    now: Instant,
) -> Result<(), ServiceError> {
    let mut undrawn = Vec::new();
    for follow_up in running(tx)? {
        let step = (instead_of, Noticed::AtOnce);
        undrawn.extend(set_back(office, tx, follow_up, step, now)?);
    }
    all_drawn(undrawn)?;
    tx.remember(RememberedInstant::LastAlive, now)?;
    tell(office, tx, (instead_of, Noticed::AtOnce), now)
}

/// At the start of the service: whatever was written further ahead than the clock shows was written
/// before the clock was set back. Returns whether anything was.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn noticed_at_start(
    office: &Office,
    tx: &mut Tx<'_>,
    now: Instant,
) -> Result<bool, ServiceError> {
    let is_ahead = |at: &Instant| *at - now > LATE_MAX;
    let last_alive = tx.remembered(RememberedInstant::LastAlive)?.filter(is_ahead);
    let mut furthest = last_alive;
    let mut undrawn = Vec::new();
    for follow_up in running(tx)? {
        let last_entry = tx.last_entry_at(follow_up)?.filter(is_ahead);
        if let Some(instead_of) = last_entry.max(last_alive) {
            furthest = furthest.max(Some(instead_of));
            let step = (instead_of, Noticed::AtStart);
            undrawn.extend(set_back(office, tx, follow_up, step, now)?);
        }
    }
    all_drawn(undrawn)?;
    if last_alive.is_some() {
        tx.remember(RememberedInstant::LastAlive, now)?;
    }
    if let Some(instead_of) = furthest {
        tell(office, tx, (instead_of, Noticed::AtStart), now)?;
    }
    Ok(furthest.is_some())
}

/// Follow-ups that have not ended.
fn running(view: &View<'_>) -> Result<Vec<FollowUpId>, StoreError> {
    let mut all = Vec::new();
    let mut after = None;
    loop {
        let listed = view.follow_ups(after, LISTED)?;
        let Some(last) = listed.last() else { return Ok(all) };
        after = Some(last.follow_up);
        let running = listed.iter().filter(|listed| listed.standing != ListedStanding::Closed);
        all.extend(running.map(|listed| listed.follow_up));
    }
}

/// Moves the waits of one follow-up. Returns the pictures that its mail wants first; then nothing
/// has happened to it yet.
fn set_back(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (instead_of, noticed): (Instant, Noticed),
    now: Instant,
) -> Result<Vec<Commission>, ServiceError> {
    let act_of = Act {
        occasion: &Occasion::ClockSetBack { instead_of, noticed },
        kind: "clock",
        detail: serde_json::json!({ "instead_of": instead_of.to_rfc3339() }),
        at: now,
        words: None,
    };
    match act(office, tx, follow_up, &act_of) {
        Ok(_) => Ok(Vec::new()),
        Err(ServiceError::Undrawn(wanted)) => Ok(wanted),
        Err(failed) => Err(failed),
    }
}

/// The step is written down for all at once, when the last picture is drawn.
fn all_drawn(undrawn: Vec<Commission>) -> Result<(), ServiceError> {
    if undrawn.is_empty() { Ok(()) } else { Err(ServiceError::Undrawn(undrawn)) }
}

fn tell(
    office: &Office,
    tx: &mut Tx<'_>,
    (instead_of, noticed): (Instant, Noticed),
    now: Instant,
) -> Result<(), ServiceError> {
    tell_first_on_cover(office, tx, now, Urgency::Alert, |desk| {
        desk.clock_was_set_back(instead_of, noticed)
    })
}
