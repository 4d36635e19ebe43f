//! The daily message: the sign that the service lives, with how all follow-ups stand and what is
//! planned.
//!
//! Never here: waiting, wording.
//! Promises: one a day, at the clinic's hour or as soon after it as the service runs; none before the
//! service has run for the first time; whether it left can be told.

use chrono::{NaiveTime, TimeDelta};

use super::covering;
use super::error::ServiceError;
use super::office::Office;
use super::waking::tell_first_on_cover;
use crate::follow_up::state::Standing;
use crate::follow_up::{Calendar, Instant};
use crate::notice::{self, CalendarFile, DayCalendar, Planned, Standings};
use crate::store::{ListedStanding, MailStatus, RememberedInstant, StoreError, Tx, Urgency, View};

/// How long a day's message may take to leave before somebody else is told (common practice, no
/// source): longer than any wait of the outbox between two tries.
const LEAVES_WITHIN: TimeDelta = TimeDelta::minutes(30);

/// Follow-ups read at once.
const PORTION: u32 = 500;

/// The days of the calendar: today, and tomorrow, so that the next day's moves what this one said.
const CALENDAR_DAYS: u32 = 2;

/// The most entries of a calendar in a mail: some 2 MB, which any mail server takes.
const ENTRIES_MAX: usize = 5000;

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

/// What the day's message says.
#[derive(Debug)]
pub struct DayReport {
    standings: Standings,
    calendar: DayCalendar,
}

/// Reads what the day's message says; none where it is not due. Reading takes long with many clients
/// (the calendar goes by whole journals), so it happens before and beside the writing.
///
/// # Errors
/// When the store cannot be read.
pub fn report(
    office: &Office,
    view: &View<'_>,
    now: Instant,
) -> Result<Option<DayReport>, ServiceError> {
    let Some(daily_at) = office.clinic.watch.daily_at else { return Ok(None) };
    let last = view.remembered(RememberedInstant::DailyMessage)?;
    if !is_due(latest_slot(&office.calendar, daily_at, now), last) {
        return Ok(None);
    }
    let cover = covering::clinic_cover(office, view, now)?;
    let reader = cover.first().and_then(|id| office.clinic.clinician(id));
    let language = reader.map_or("", |reader| reader.language.as_str());
    Ok(Some(DayReport {
        standings: standings(office, view, now)?,
        calendar: calendar(office, view, language, now)?,
    }))
}

/// Writes the day's message where it is due. Returns whether it was.
///
/// # Errors
/// When the store refuses, or the message cannot be composed.
pub fn write(
    office: &Office,
    tx: &mut Tx<'_>,
    report: Option<DayReport>,
    now: Instant,
) -> Result<bool, ServiceError> {
    if tx.remembered(RememberedInstant::DailyMessage)?.is_none() {
        tx.remember(RememberedInstant::DailyMessage, now)?;
    }
    let Some(DayReport { standings, calendar }) = report else { return Ok(false) };
    tell_first_on_cover(office, tx, now, Urgency::Digest, |desk| {
        desk.still_alive(&standings, calendar)
    })?;
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
        MailStatus::Queued | MailStatus::Sending | MailStatus::Carried | MailStatus::Refused => {
            false
        }
    };
    Ok(!has_left && now - mail.created_at > LEAVES_WITHIN)
}

/// How all follow-ups stand, and whose looks wait beyond their first wait.
fn standings(office: &Office, view: &View<'_>, now: Instant) -> Result<Standings, ServiceError> {
    let mut standings = Standings::default();
    let mut after = None;
    loop {
        let portion = view.follow_ups(after, PORTION)?;
        let Some(last) = portion.last() else {
            standings.stopped.sort_by_key(|(_, since)| *since);
            return Ok(standings);
        };
        after = Some(last.follow_up);
        for listed in portion {
            if listed.standing == ListedStanding::Closed {
                continue;
            }
            standings.follow_ups += 1;
            let loaded = view.load(listed.follow_up)?;
            let plan = office.plan(view, &loaded.plan)?;
            match loaded.state.standing {
                Standing::Stopped { since, .. } => {
                    standings.stopped.push((listed.client.clone(), since));
                }
                Standing::Suspended => standings.suspended.push(listed.client.clone()),
                Standing::Open | Standing::Paused { .. } | Standing::Closed => {}
            }
            let wait = plan.looks.answer_within.elapsed();
            let open = loaded.state.unsettled_looks();
            let asked = open.filter_map(|look| look.clock.as_ref()).map(|c| c.first_asked).min();
            if let Some(asked) = asked.filter(|asked| now - *asked > wait) {
                standings.overdue.push((listed.client, asked));
            }
        }
    }
}

/// What is planned for all clients. Of a follow-up that has ended, as long as an earlier day's
/// calendar may show entries of it.
fn calendar(
    office: &Office,
    view: &View<'_>,
    language: &str,
    now: Instant,
) -> Result<DayCalendar, ServiceError> {
    let mut calendar = CalendarFile::new(&notice::Agenda::name_of_all(&office.languages, language));
    let mut after = None;
    loop {
        let portion = view.follow_ups(after, PORTION)?;
        let Some(last) = portion.last() else { break };
        after = Some(last.follow_up);
        for listed in portion {
            if listed.standing == ListedStanding::Closed {
                let newest = view.journal_tail(listed.follow_up, 1)?;
                let ended = newest.last().map(|line| line.entry.at);
                if ended.is_none_or(|at| now - at > TimeDelta::days(i64::from(CALENDAR_DAYS))) {
                    continue;
                }
            }
            let loaded = view.load(listed.follow_up)?;
            let plan = office.plan(view, &loaded.plan)?;
            let journal = view.journal_of(listed.follow_up)?;
            calendar.add(&Planned {
                client: &listed.client,
                state: &loaded.state,
                plan: &plan,
                journal: journal.iter().map(|line| &line.entry.event).collect(),
                agenda: notice::Agenda::new(&office.languages, language, &listed.client),
                publisher: office.from.address.as_str(),
                days: CALENDAR_DAYS,
                now,
            });
            if calendar.entries() > ENTRIES_MAX {
                return Ok(DayCalendar::TooLong);
            }
        }
    }
    match calendar.entries() {
        0 => Ok(DayCalendar::Nothing),
        _ => Ok(DayCalendar::File(calendar.text())),
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
