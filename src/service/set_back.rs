//! A machine's clock that was set back: written down in every journal, so that no wait grows by it.
//!
//! While the service runs, a steady clock tells at once and by how much (`clock::ClockWatch`). At a
//! start it shows by what the last run wrote: a sign of life or an entry that lies ahead.
//!
//! Never here: which waits move (the core decides), looking at clocks.
//! Promises: each step is written down once, in one transaction with all that follows from it; the
//! clinic is told.

use std::collections::HashMap;

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

/// Follow-ups whose newest entry lies ahead of now, which it cannot by a clock that only goes on. To be
/// asked at the start, of a reader: all follow-ups are looked at, and the writer would keep what it read
/// of them in memory.
///
/// # Errors
/// When the store cannot be read.
pub fn ahead_at_start(
    view: &View<'_>,
    now: Instant,
) -> Result<Vec<(FollowUpId, Instant)>, StoreError> {
    view.running_with_entries_after(now + LATE_MAX)
}

/// At the start of the service: whatever was written further ahead than the clock shows was written
/// before the clock was set back; `ahead` is what `ahead_at_start` found. Returns whether anything was.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn noticed_at_start(
    office: &Office,
    tx: &mut Tx<'_>,
    ahead: &[(FollowUpId, Instant)],
    now: Instant,
) -> Result<bool, ServiceError> {
    let is_ahead = |at: &Instant| *at - now > LATE_MAX;
    let last_alive = tx.remembered(RememberedInstant::LastAlive)?.filter(is_ahead);
    let steps: Vec<(FollowUpId, Instant)> = match last_alive {
        None => ahead.to_vec(),
        // The service itself was ahead: so was every clock that runs, by that much at least.
        Some(alive) => {
            let entries: HashMap<FollowUpId, Instant> = ahead.iter().copied().collect();
            let step = |id| (id, entries.get(&id).map_or(alive, |entry| alive.max(*entry)));
            running(tx)?.into_iter().map(step).collect()
        }
    };
    let mut undrawn = Vec::new();
    for (follow_up, instead_of) in &steps {
        let step = (*instead_of, Noticed::AtStart);
        undrawn.extend(set_back(office, tx, *follow_up, step, now)?);
    }
    all_drawn(undrawn)?;
    if last_alive.is_some() {
        tx.remember(RememberedInstant::LastAlive, now)?;
    }
    let furthest = steps.iter().map(|(_, instead_of)| *instead_of).max().max(last_alive);
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
