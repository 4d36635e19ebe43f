//! The decisions of a report: what was decided, by whom or by which rule, and when.
//!
//! Never here: findings. Promises: the match names every event, so that a new one cannot be
//! forgotten; a rule's decision names the rule.

use super::letter::{List, keep_newest, stamp};
use super::page::Page;
use crate::care::ClinicianId;
use crate::follow_up::event::{PauseReason, StopReason};
use crate::follow_up::{Entry, Event};

/// How many characters of each column stand on one line in print, rather fewer than more.
const CHARS: [usize; 3] = [20, 76, 18];

/// The decisions, oldest first; the newest that take no more than so many lines.
pub(super) fn list(page: &Page<'_>, entries: &[Entry], lines_max: usize) -> List {
    let w = page.w;
    let zone = &page.scene.state.terms.zone;
    let mut rows: Vec<Vec<String>> = entries
        .iter()
        .filter_map(|entry| {
            let (what, by) = decision(page, &entry.event)?;
            let who = match by {
                By::Clinician(id) => page.clinician(id),
                By::SomeClinician => w.letter_some_clinician(),
                By::Plan => w.letter_rule(&entry.event.rule()),
            };
            Some(vec![stamp(zone, entry.at), capital(&what), who])
        })
        .collect();
    let (left_out, _) = keep_newest(&mut rows, &CHARS, lines_max);
    let notes = if left_out > 0 { vec![w.letter_earlier(&left_out)] } else { Vec::new() };
    let head = vec![w.letter_when(), w.letter_what(), w.letter_who()];
    List { heading: w.letter_decisions(), head, rows, notes }
}

/// Who decided.
enum By<'a> {
    Clinician(&'a ClinicianId),
    /// The journal does not say which.
    SomeClinician,
    /// The plan, by one of its rules.
    Plan,
}

fn decision<'e>(page: &Page<'_>, event: &'e Event) -> Option<(String, By<'e>)> {
    let w = page.w;
    Some(match event {
        Event::Advanced { step, .. } => (w.letter_advanced(&page.step(*step)), By::Plan),
        Event::Held { step, expect_tenths, .. } => {
            let expected = w.duration_minutes(&w.decimal(*expect_tenths, 1));
            (w.letter_held(&page.step(*step), &expected), By::Plan)
        }
        Event::Routine { .. } => (w.picture_routine(), By::Plan),
        Event::Suspended => (w.picture_suspended(), By::Plan),
        Event::Unsuspended => (w.letter_unsuspended(), By::Plan),
        Event::Stopped { why, sites, step, by, .. } => {
            let (place, step) = (page.place(sites), page.step(*step));
            let (why, by) = match why {
                StopReason::Persisting => (w.letter_persisting(&place), By::Plan),
                StopReason::Alarming => (w.letter_alarming(&place), By::Plan),
                StopReason::RecheckUnreported => (w.letter_unreported(&place), By::Plan),
                StopReason::Clinician => {
                    (w.letter_by_word(), by.as_ref().map_or(By::SomeClinician, By::Clinician))
                }
            };
            (w.letter_stopped(&step, &why), by)
        }
        Event::Acknowledged { by, .. } => (w.letter_seen(), By::Clinician(by)),
        Event::Resumed { by, step } => (w.letter_resumed(&page.step(*step)), By::Clinician(by)),
        Event::KeptStopped { by } => (w.letter_kept(), By::Clinician(by)),
        Event::Closed { by } => (w.picture_closed(), By::Clinician(by)),
        Event::PlanAdopted { by, plan, .. } => (w.letter_adopted(&plan.short()), By::Clinician(by)),
        Event::Paused { by, why } => {
            let why = match why {
                PauseReason::Hospital => w.letter_hospital(),
                PauseReason::Holiday => w.letter_holiday(),
                PauseReason::Other => w.letter_other_reason(),
            };
            (w.letter_paused(&why), By::Clinician(by))
        }
        Event::Unpaused { by, .. } => (w.letter_unpaused(), By::Clinician(by)),
        Event::Fitted { version, date, in_spite_of: Some(by) } => {
            (w.letter_fitted_in_spite_of(date, &version.short()), By::Clinician(by))
        }
        Event::Fitted { version, date, in_spite_of: None } => {
            (w.letter_fitted(date, &version.short()), By::SomeClinician)
        }
        Event::Enrolled { .. }
        | Event::Sitting { .. }
        | Event::Started { .. }
        | Event::TakenUp { .. }
        | Event::Dropped { .. }
        | Event::LookPlanned { .. }
        | Event::LookMoved { .. }
        | Event::ReminderPutOff { .. }
        | Event::LookWithdrawn { .. }
        | Event::RoutineDue { .. }
        | Event::RoutinePassed { .. }
        | Event::Asked { .. }
        | Event::Unasked { .. }
        | Event::Answered { .. }
        | Event::Found { .. }
        | Event::NotUnderstood { .. }
        | Event::SitesNamed { .. }
        | Event::SittingEnded { .. }
        | Event::Reopened { .. }
        | Event::Credit { .. }
        | Event::NoCredit { .. }
        | Event::RunBroken
        | Event::Missed { .. }
        | Event::MidnightPassed { .. }
        | Event::Review { .. }
        | Event::ToldToStop { .. }
        | Event::Alerted { .. }
        | Event::ClinicTold { .. }
        | Event::SetAside { .. }
        | Event::Unreachable { .. }
        | Event::ContactsChanged { .. }
        | Event::HoursSaid { .. }
        | Event::Awoke { .. }
        | Event::ClockSetBack { .. } => return None,
    })
}

/// A phrase as the beginning of a row.
fn capital(phrase: &str) -> String {
    let mut letters = phrase.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
