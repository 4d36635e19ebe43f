//! The daily message: the sign that the service lives, with how all follow-ups stand.
//!
//! Never here: waiting, wording.
//! Promises: one a day, at the clinic's hour or as soon after it as the service runs; none before the
//! service has run for the first time; whether it left can be told.

use chrono::{NaiveTime, TimeDelta};

use super::error::ServiceError;
use super::office::Office;
use super::waking::tell_first_on_cover;
use crate::follow_up::{Calendar, Instant};
use crate::notice::Standings;
use crate::store::{ListedStanding, MailStatus, RememberedInstant, StoreError, Tx, Urgency, View};

/// How long a day's message may take to leave before somebody else is told (common practice, no
/// source): longer than any wait of the outbox between two tries.
const LEAVES_WITHIN: TimeDelta = TimeDelta::minutes(30);

/// Follow-ups read at once.
const PORTION: u32 = 500;

/// The latest instant, not after now, at which something daily falls due.
pub fn latest_slot(calendar: &Calendar, daily_at: NaiveTime, now: Instant) -> Instant {
    calendar.latest_not_after(daily_at, now)
}

/// The first instant after now at which something daily falls due.
pub fn next_slot(calendar: &Calendar, daily_at: NaiveTime, now: Instant) -> Instant {
    let today = calendar.date(now);
    (0..=2)
        .filter_map(|ahead| today.checked_add_days(chrono::Days::new(ahead)))
        .map(|date| calendar.instant(date, daily_at))
        .find(|at| *at > now)
        .unwrap_or(now + TimeDelta::days(1))
}

/// Whether a daily thing is due that was last done at `last`. What was never done begins with the
/// next slot.
pub fn is_due(slot: Instant, last: Option<Instant>) -> bool {
    last.is_some_and(|last| last < slot)
}

/// Writes the day's message where it is due. Returns whether it was.
///
/// # Errors
/// When the store refuses, or the message cannot be composed.
pub fn write(office: &Office, tx: &mut Tx<'_>, now: Instant) -> Result<bool, ServiceError> {
    let Some(daily_at) = office.clinic.watch.daily_at else { return Ok(false) };
    let last = tx.remembered(RememberedInstant::DailyMessage)?;
    if last.is_none() {
        tx.remember(RememberedInstant::DailyMessage, now)?;
        return Ok(false);
    }
    if !is_due(latest_slot(&office.calendar, daily_at, now), last) {
        return Ok(false);
    }
    let standings = standings(office, tx, now)?;
    tell_first_on_cover(office, tx, now, Urgency::Digest, |desk| desk.still_alive(&standings))?;
    tx.remember(RememberedInstant::DailyMessage, now)?;
    Ok(true)
}

/// Whether the last day's message should have left and has not.
///
/// # Errors
/// When the store refuses.
pub fn is_held_up(view: &View<'_>, now: Instant) -> Result<bool, StoreError> {
    let Some(mail) = view.newest_mail_of(Urgency::Digest)? else { return Ok(false) };
    let has_left = match mail.status {
        MailStatus::Sent | MailStatus::Withdrawn => true,
        MailStatus::Queued | MailStatus::Sending | MailStatus::Refused => false,
    };
    Ok(!has_left && now - mail.created_at > LEAVES_WITHIN)
}

/// How all follow-ups stand, and whose looks wait beyond their first wait.
fn standings(office: &Office, view: &View<'_>, now: Instant) -> Result<Standings, ServiceError> {
    let mut standings = Standings::default();
    let mut after = None;
    loop {
        let portion = view.follow_ups(after, PORTION)?;
        let Some(last) = portion.last() else { return Ok(standings) };
        after = Some(last.follow_up);
        for listed in portion {
            match listed.standing {
                ListedStanding::Closed => continue,
                ListedStanding::Stopped => standings.stopped += 1,
                ListedStanding::Suspended => standings.suspended += 1,
                ListedStanding::Open | ListedStanding::Paused => {}
            }
            standings.follow_ups += 1;
            let loaded = view.load(listed.follow_up)?;
            let plan = office.plan(view, &loaded.plan)?;
            let wait = plan.looks.answer_within.elapsed();
            let open = loaded.state.looks.iter().filter(|look| look.is_unsettled());
            let asked = open.filter_map(|look| look.clock.as_ref()).map(|c| c.first_asked).min();
            if let Some(asked) = asked.filter(|asked| now - *asked > wait) {
                standings.overdue.push((listed.client, asked));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_daily_thing_falls_due_at_its_hour_and_what_was_never_done_waits_for_the_next() {
        let calendar = Calendar::new("Europe/London").unwrap();
        let eight = NaiveTime::from_hms_opt(8, 0, 0).unwrap();
        // Summer time: eight o'clock is seven UTC.
        let now: Instant = "2026-07-01T12:00:00Z".parse().unwrap();
        let slot = latest_slot(&calendar, eight, now);
        assert_eq!(slot.to_rfc3339(), "2026-07-01T07:00:00+00:00");
        assert_eq!(next_slot(&calendar, eight, now) - slot, TimeDelta::days(1));
        assert_eq!(next_slot(&calendar, eight, slot - TimeDelta::seconds(1)), slot);
        assert!(is_due(slot, Some(slot - TimeDelta::hours(24))));
        assert!(!is_due(slot, Some(slot)));
        assert!(!is_due(slot, None));
    }
}
