//! Waking up after an absence (R26): what was missed is asked once, and the clinic is told.
//!
//! Never here: what counts as missed (the core decides).
//! Promises: an absence is told once, whatever happened in it; nobody is flooded.

use std::collections::BTreeMap;

use chrono::Timelike;
use tracing::{info, warn};

use super::act::{Act, act, clinician};
use super::covering;
use super::due::LATE_MAX;
use super::error::ServiceError;
use super::mail_clock;
use super::mailing::{self, Slip};
use super::office::Office;
use super::set_back;
use crate::care::ClientRef;
use crate::follow_up::event::LookKind;
use crate::follow_up::{Event, Instant, Occasion};
use crate::notice::{self, DueMeanwhile};
use crate::store::{
    FollowUpId, PersonRef, RememberedInstant, RequestTarget, StoreError, Tx, Urgency,
};

/// Follow-ups taken in one go when looking for what was due.
const ALL: u32 = u32::MAX;

/// Puts right what the last run left unfinished, and says whether the service was away.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn begin(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<bool, ServiceError> {
    let ahead = set_back::ahead_at_start(tx, now)?;
    begin_with(office, tx, &ahead, now)
}

/// As `begin`, with what `set_back::ahead_at_start` found.
///
/// # Errors
/// As `begin`.
pub fn begin_with(
    office: &Office,
    tx: &mut Tx<'_>,
    ahead: &[(FollowUpId, Instant)],
    now: Instant,
) -> Result<bool, ServiceError> {
    let unsent = tx.requeue_unfinished_mail()?;
    if unsent > 0 {
        info!(unsent, "mail that was being sent when the last run ended goes out again");
    }
    for inbox in tx.recover_received()? {
        warn!(inbox = inbox.number(), "a mail that was begun twice is set aside");
        tell_poisonous(office, tx, now)?;
    }
    if set_back::noticed_at_start(office, tx, ahead, now)? {
        warn!("the machine's clock was set back since the service last ran");
    }
    let last_alive = tx.remembered(RememberedInstant::LastAlive)?;
    Ok(last_alive.is_some_and(|alive| now - alive > LATE_MAX))
}

/// Wakes up: where the service was away, every follow-up that had something due meanwhile is told
/// so, and the clinic hears how long it was. Returns whether it was away.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn wake(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<bool, ServiceError> {
    let last_alive = tx.remembered(RememberedInstant::LastAlive)?;
    tx.remember(RememberedInstant::LastAlive, now)?;
    if let Some(alive) = last_alive {
        // However short: it may have been set on meanwhile by all that it seems to have gone on.
        mail_clock::may_be_ahead_by_more(tx, now - alive)?;
    }
    let Some(away_since) = last_alive.filter(|alive| now - *alive > LATE_MAX) else {
        return Ok(false);
    };
    let mut meanwhile: BTreeMap<ClientRef, DueMeanwhile> = BTreeMap::new();
    let mut undrawn = Vec::new();
    for follow_up in tx.due_follow_ups(now - LATE_MAX, ALL)? {
        let client = tx.load(follow_up)?.client;
        let awoke = Act {
            occasion: &Occasion::Awoke { away_since },
            kind: "awoke",
            detail: serde_json::json!({ "away_since": away_since.to_rfc3339() }),
            at: now,
            words: None,
        };
        let acted = match act(office, tx, follow_up, &awoke) {
            // All that is wanted is drawn at once, before the waking is done anew.
            Err(ServiceError::Undrawn(wanted)) => {
                undrawn.extend(wanted);
                continue;
            }
            acted => acted?,
        };
        let due = meanwhile.entry(client.clone()).or_insert(DueMeanwhile {
            client,
            looks: 0,
            sittings: 0,
        });
        for entry in &acted.entries {
            match &entry.event {
                Event::Asked { .. } | Event::Missed { .. } | Event::RoutinePassed { .. } => {
                    due.looks += 1;
                }
                Event::Sitting { .. } | Event::Dropped { .. } => due.sittings += 1,
                Event::LookPlanned { kind: LookKind::Recheck, .. } => due.looks += 1,
                _ => {}
            }
        }
    }
    if !undrawn.is_empty() {
        return Err(ServiceError::Undrawn(undrawn));
    }
    tell_clinic(office, tx, away_since, &meanwhile.into_values().collect::<Vec<_>>(), now)?;
    Ok(true)
}

fn tell_clinic(
    office: &Office,
    tx: &mut Tx<'_>,
    away_since: Instant,
    meanwhile: &[DueMeanwhile],
    now: Instant,
) -> Result<(), ServiceError> {
    tell_first_on_cover(office, tx, now, Urgency::Alert, |desk| {
        desk.service_was_away(away_since, meanwhile)
    })
}

/// When the service ran for the first time on this data. Mail that came before it answers nothing of
/// ours; all that came later may, however often the service was started or killed since.
///
/// # Errors
/// When the store refuses.
pub fn first_run(tx: &mut Tx<'_>, now: Instant) -> Result<Instant, StoreError> {
    if let Some(first) = tx.remembered(RememberedInstant::FirstRun)? {
        return Ok(first);
    }
    // Mail servers tell the time of receipt in whole seconds.
    let first = now.with_nanosecond(0).unwrap_or(now);
    tx.remember(RememberedInstant::FirstRun, first)?;
    Ok(first)
}

/// Tells that a mail was begun twice and never finished, in fixed words that read nothing from it.
///
/// # Errors
/// When the store refuses, or the notice cannot be composed.
pub fn tell_poisonous(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<(), ServiceError> {
    tell_first_on_cover(office, tx, now, Urgency::Alert, |desk| {
        desk.mail_set_aside(&notice::UnreadMail {
            why: notice::UnreadReason::Unreadable,
            came_at: now,
            sender: None,
            words: None,
        })
    })
}

/// Writes a notice about the clinic as a whole to the first on cover.
///
/// # Errors
/// When the store refuses, or the notice cannot be composed.
pub(super) fn tell_first_on_cover(
    office: &Office,
    tx: &mut Tx<'_>,
    now: Instant,
    urgency: Urgency,
    write: impl FnOnce(&notice::Desk<'_>) -> notice::Draft,
) -> Result<(), ServiceError> {
    let cover = covering::clinic_cover(office, tx, now)?;
    let Some(id) = cover.first() else { return Ok(()) };
    let Some(to) = clinician(office, id) else { return Ok(()) };
    let desk = notice::Desk {
        languages: &office.languages,
        language: &to.language,
        zone: &office.calendar,
        now,
    };
    let slip = Slip {
        follow_up: None,
        cause: None,
        person: PersonRef::Clinician(id.clone()),
        target: RequestTarget::Other,
        urgency,
        now,
    };
    let draft = write(&desk);
    mailing::post(office, tx, slip, to, draft).map(|_| ())
}
