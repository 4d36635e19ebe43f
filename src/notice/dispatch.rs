//! Which event is written to whom.
//!
//! Never here: wording, addresses, sending, quiet hours (the sender keeps those, by urgency).
//! Promises: the match names every event, so that a new one cannot be forgotten.

use super::alert::alert;
use super::ask::{self, Ask};
use super::confirmation::{self, Reply};
use super::decided::{self, Decided};
use super::draft::{Draft, Recipient};
use super::page::{Page, Scene};
use super::setting::{Backdrop, Setting};
use super::sitting::{self, Begin};
use super::{standing, stop, told};
use crate::care::{ClinicianId, ContactId, Plan, Verdict};
use crate::follow_up::event::AsideReason;
use crate::follow_up::{Entry, Event, Instant, State};

/// The notices that an entry calls for, with who gets each. `state` is the state after the whole
/// decision that the entry is part of.
///
/// `Awoke` and `ClockSetBack` call for none here: the service tells of either once for all clients,
/// by [`super::Desk::service_was_away`] and [`super::Desk::clock_was_set_back`].
pub fn for_event(
    entry: &Entry,
    state: &State,
    plan: &Plan,
    setting: &Setting<'_>,
    backdrop: &Backdrop<'_>,
) -> Vec<(Recipient, Draft)> {
    let scene = Scene { at: entry.at, state, plan, setting, backdrop };
    match &entry.event {
        Event::Sitting { sitting: number, step, minutes, start, to, offsets, .. } => {
            let (number, step, minutes, start) = (*number, *step, *minutes, *start);
            let begin = Begin { number, step, minutes, start, offsets };
            one_contact(to, sitting::announcement(&scene.for_contact(to), &begin))
        }
        Event::Asked { look, to, again, clock, .. } => {
            let ask = Ask { look: state.look(*look), to, again: *again, clock };
            one_contact(to, ask::request(&scene.for_contact(to), &ask))
        }
        Event::ToldToStop { to } => one_contact(to, stop::instruction(&scene.for_contact(to))),
        Event::Alerted { cause, sending, to, .. } => {
            one_clinician(to, alert(&scene.for_clinician(to), *cause, *sending, to))
        }
        Event::ClinicTold { why, to, detail } => {
            one_clinician(to, told::told(&scene.for_clinician(to), *why, detail))
        }
        Event::Suspended => all_contacts(scene, standing::suspended),
        Event::Unsuspended if state.is_stopped() => Vec::new(),
        Event::Unsuspended => all_contacts(scene, standing::unsuspended),
        Event::Routine { .. } => all_contacts(scene, standing::routine),
        Event::Review { day } => on_cover(decided::review(&on_cover_page(scene), *day)),
        Event::Acknowledged { by, .. } => acknowledged(scene, by),
        Event::Resumed { by, step } => {
            let mut notices = all_contacts(scene, |page| standing::resumed(page, *step));
            notices.extend(decision(scene, by, Decided::Resumed(*step)));
            notices
        }
        Event::KeptStopped { by } => decision(scene, by, Decided::KeptStopped),
        Event::Closed { by } => {
            let mut notices = all_contacts(scene, standing::closed);
            notices.extend(decision(scene, by, Decided::Closed));
            notices
        }
        Event::Paused { .. } => all_contacts(scene, standing::paused),
        Event::Unpaused { step: Some(step), .. } => {
            all_contacts(scene, |page| standing::resumed(page, *step))
        }
        Event::Unpaused { step: None, .. } => all_contacts(scene, standing::unpaused),
        Event::SetAside { by, why } => set_aside(scene, by, *why),
        Event::Unreachable { contact } => {
            on_cover(decided::unreachable(&on_cover_page(scene), contact))
        }
        Event::Enrolled { .. }
        | Event::Started { .. }
        | Event::TakenUp { .. }
        | Event::Dropped { .. }
        | Event::LookPlanned { .. }
        | Event::LookMoved { .. }
        | Event::ReminderPutOff { .. }
        | Event::LookWithdrawn { .. }
        | Event::RoutineDue { .. }
        | Event::RoutinePassed { .. }
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
        | Event::Advanced { .. }
        | Event::Held { .. }
        | Event::MidnightPassed { .. }
        | Event::Stopped { .. }
        | Event::ContactsChanged { .. }
        | Event::HoursSaid { .. }
        | Event::PlanAdopted { .. }
        | Event::Fitted { .. }
        | Event::Awoke { .. }
        | Event::ClockSetBack { .. } => Vec::new(),
    }
}

/// The confirmation of a contact's reply to the one who wrote it; none where nothing was
/// understood or taken. `entries` are those of the decision that took the reply, `at` is when it
/// came, `state` the state afterwards.
pub fn for_reply(
    at: Instant,
    by: &ContactId,
    verdict: &Verdict,
    entries: &[Entry],
    state: &State,
    plan: &Plan,
    setting: &Setting<'_>,
) -> Option<(Recipient, Draft)> {
    let backdrop = Backdrop::default();
    let scene = Scene { at, state, plan, setting, backdrop: &backdrop };
    let reply = Reply { by, verdict, entries };
    let draft = confirmation::confirmation(&scene.for_contact(by), &reply)?;
    Some((Recipient::Contact(by.clone()), draft))
}

fn one_contact(to: &ContactId, draft: Draft) -> Vec<(Recipient, Draft)> {
    vec![(Recipient::Contact(to.clone()), draft)]
}

fn one_clinician(to: &ClinicianId, draft: Draft) -> Vec<(Recipient, Draft)> {
    vec![(Recipient::Clinician(to.clone()), draft)]
}

fn on_cover(draft: Draft) -> Vec<(Recipient, Draft)> {
    vec![(Recipient::OnCover, draft)]
}

/// In the language of the first on the client's own cover; the clinic's cover is not known here,
/// and a clinic's clinicians mostly share a language, so any of them serves then.
fn on_cover_page<'a>(scene: Scene<'a>) -> Page<'a> {
    let clinicians = scene.setting.clinicians;
    let own = scene.state.terms.cover.first().and_then(|id| clinicians.get(id));
    let first = own.or_else(|| clinicians.values().next());
    scene.in_language(first.map_or("", |person| person.language()))
}

fn all_contacts(scene: Scene<'_>, write: impl Fn(&Page<'_>) -> Draft) -> Vec<(Recipient, Draft)> {
    let contacts = scene.state.reachable();
    contacts.map(|to| (Recipient::Contact(to.clone()), write(&scene.for_contact(to)))).collect()
}

fn decision(scene: Scene<'_>, by: &ClinicianId, decided: Decided) -> Vec<(Recipient, Draft)> {
    one_clinician(by, decided::confirmation(&scene.for_clinician(by), decided))
}

/// A decision acknowledges too and has a confirmation of its own; a mere 'seen' gets this one.
fn acknowledged(scene: Scene<'_>, by: &ClinicianId) -> Vec<(Recipient, Draft)> {
    let alert = scene.state.alert.as_ref().and_then(|alert| alert.acknowledged.as_ref());
    if alert.is_none() { Vec::new() } else { decision(scene, by, Decided::Seen) }
}

/// A clinician hears of their own answer; a contact's is shown to the clinic.
fn set_aside(scene: Scene<'_>, by: &str, why: AsideReason) -> Vec<(Recipient, Draft)> {
    let clinician =
        ClinicianId::new(by).ok().filter(|id| scene.setting.clinicians.contains_key(id));
    let contact = ContactId::new(by).ok().filter(|id| scene.setting.contacts.contains_key(id));
    match (contact, clinician) {
        (None, Some(id)) => {
            let page = scene.for_clinician(&id);
            one_clinician(&id, decided::set_aside(&page, &page.clinician(&id), why))
        }
        (contact, _) => {
            let page = on_cover_page(scene);
            let who = contact.map_or_else(|| page.w.frame_unnamed(), |id| page.contact(&id));
            on_cover(decided::set_aside(&page, &who, why))
        }
    }
}
