//! What the staff do by hand: a finding taken by phone, a decision, a pause, other contacts.
//!
//! Never here: who may do it (the edges check roles), reading words, printing.
//! Promises: each is the same act as the reply or the mail that would have said it, with the
//! person who did it in the record.

use super::act::{Act, Acted, act};
use super::error::ServiceError;
use super::office::Office;
use super::refusal::Refusal;
use crate::care::{AskedHours, ClinicianId, ContactId, Verdict};
use crate::follow_up::event::LookKind;
use crate::follow_up::{Aim, Instant, Occasion, PauseReason, State, StepNumber, Target};
use crate::post::Address;
use crate::reply::Answering;
use crate::store::{FollowUpId, OccasionRecord, Person, Tx};

/// A finding that somebody of the clinic took by phone.
#[derive(Clone, Debug)]
pub struct PhoneReport {
    /// Who said it.
    pub by: ContactId,
    /// Who took it.
    pub taken_by: ClinicianId,
    /// What was said.
    pub verdict: Verdict,
    /// The words, where they were written down; notices to the clinic quote them.
    pub words: Option<String>,
}

/// What a contact's words answer: the newest request to them, open ones first.
pub fn answering(state: &State, by: &ContactId) -> Answering {
    match state.newest_request(by, Aim::Newest) {
        Some(Target::Announcement(_)) => Answering::Start,
        Some(Target::Look(id)) if state.look(id).kind == LookKind::Recheck => Answering::Recheck,
        Some(Target::Look(_)) | None => Answering::Look,
    }
}

/// Takes a finding that was said by phone: as a reply to whatever fits best of what the contact
/// was asked.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn report(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    report: &PhoneReport,
    now: Instant,
) -> Result<Acted, ServiceError> {
    let PhoneReport { by, taken_by, verdict, words } = report;
    let occasion = Occasion::Reply { by: by.clone(), verdict: verdict.clone(), aim: Aim::Newest };
    let detail = serde_json::json!({ "taken_by": taken_by, "words": words.is_some() });
    let (at, words) = (now, words.as_deref());
    act(office, tx, follow_up, &Act { occasion: &occasion, kind: "phone", detail, at, words })
}

/// Takes a clinician's decision on how the follow-up stands now.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn decide(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, verdict): (&ClinicianId, Verdict),
    now: Instant,
) -> Result<Acted, ServiceError> {
    let occasion = Occasion::Decision { by: by.clone(), verdict, answers: None };
    let detail = serde_json::json!({ "by_hand": by });
    let (at, words) = (now, None);
    act(office, tx, follow_up, &Act { occasion: &occasion, kind: "decision", detail, at, words })
}

/// Pauses a follow-up.
///
/// # Errors
/// When something stands against a pause, or the store refuses; then nothing has happened.
pub fn pause(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, why): (&ClinicianId, PauseReason),
    now: Instant,
) -> Result<Acted, ServiceError> {
    if let Some(against) = tx.load(follow_up)?.state.against_pause() {
        return Err(Refusal::Pause(against).into());
    }
    let occasion = Occasion::Pause { by: by.clone(), why };
    by_hand(office, tx, follow_up, ("pause", by, &occasion), now)
}

/// Ends a pause, at a step or where the client was.
///
/// # Errors
/// When there is no pause or no such step, or the store refuses; then nothing has happened.
pub fn unpause(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, step): (&ClinicianId, Option<StepNumber>),
    now: Instant,
) -> Result<Acted, ServiceError> {
    let loaded = tx.load(follow_up)?;
    if !loaded.state.is_paused() {
        return Err(Refusal::NotPaused.into());
    }
    let plan = office.plan(tx, &loaded.plan)?;
    let ladder = plan.ladder(&loaded.state.terms.risk);
    let last = ladder.map_or(0, |l| u32::try_from(l.steps.len()).unwrap_or(u32::MAX));
    if let Some(step) = step.filter(|step| !(1..=last).contains(&step.count())) {
        return Err(Refusal::NoSuchStep { step, last: StepNumber::new(last) }.into());
    }
    let occasion = Occasion::Unpause { by: by.clone(), step };
    by_hand(office, tx, follow_up, ("unpause", by, &occasion), now)
}

/// Keeps what is known of a contact; one who is new is asked last. Another address makes the
/// contact reachable again (R27). Returns what followed, where the follow-up was touched at all.
///
/// # Errors
/// When the follow-up has ended (its people may be erased already), the address is the service's own
/// or another contact's, or the store refuses; then nothing has happened.
pub fn set_contact(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, contact, person): (&ClinicianId, &ContactId, &Person),
    now: Instant,
) -> Result<Option<Acted>, ServiceError> {
    let state = tx.load(follow_up)?.state;
    if state.is_closed() {
        return Err(Refusal::Closed.into());
    }
    let own = [&office.from.address, &office.reply_to];
    let address = Address::parse(&person.mail)
        .map_err(|_| ServiceError::Address { whom: format!("contact {contact}") })?;
    if own.into_iter().any(|own| own.is_same(&address.without_token())) {
        return Err(Refusal::OwnAddress.into());
    }
    let same = |mail: &str| mail.eq_ignore_ascii_case(&person.mail);
    for other in state.terms.contacts.iter().filter(|other| *other != contact) {
        if tx.contact(follow_up, other)?.is_some_and(|other| same(&other.mail)) {
            return Err(Refusal::AddressTaken(other.clone()).into());
        }
    }
    let before = tx.contact(follow_up, contact)?;
    tx.put_contact(follow_up, contact, person)?;
    let mut contacts = state.terms.contacts;
    let is_new = !contacts.contains(contact);
    if is_new {
        contacts.push(contact.clone());
    }
    if is_new || before.is_none_or(|before| !same(&before.mail)) {
        let occasion = Occasion::Contacts { contacts, readdressed: vec![contact.clone()] };
        return by_hand(office, tx, follow_up, ("contact", by, &occasion), now).map(Some);
    }
    tx.add_occasion(&OccasionRecord {
        follow_up: Some(follow_up),
        kind: "contact".to_owned(),
        at: now,
        detail: serde_json::json!({ "by": by, "contact": contact }),
    })?;
    Ok(None)
}

/// Sets who is asked, and in which order; whoever is not named is asked no longer.
///
/// # Errors
/// When the store refuses; then nothing has happened.
pub fn order_contacts(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, contacts): (&ClinicianId, Vec<ContactId>),
    now: Instant,
) -> Result<Acted, ServiceError> {
    if tx.load(follow_up)?.state.is_closed() {
        return Err(Refusal::Closed.into());
    }
    let occasion = Occasion::Contacts { contacts, readdressed: Vec::new() };
    by_hand(office, tx, follow_up, ("contact", by, &occasion), now)
}

/// Sets the hours in which a contact is asked; none at all means at any hour. Returns what followed,
/// where that changed anything.
///
/// # Errors
/// When the follow-up has ended, or the store refuses; then nothing has happened.
pub fn set_hours(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (by, contact, hours): (&ClinicianId, &ContactId, &AskedHours),
    now: Instant,
) -> Result<Option<Acted>, ServiceError> {
    let state = tx.load(follow_up)?.state;
    if state.is_closed() {
        return Err(Refusal::Closed.into());
    }
    if state.hours_of(contact) == hours {
        return Ok(None);
    }
    let occasion = Occasion::Hours { contact: contact.clone(), hours: hours.clone() };
    by_hand(office, tx, follow_up, ("contact", by, &occasion), now).map(Some)
}

fn by_hand(
    office: &Office,
    tx: &mut Tx<'_>,
    follow_up: FollowUpId,
    (kind, by, occasion): (&str, &ClinicianId, &Occasion),
    now: Instant,
) -> Result<Acted, ServiceError> {
    let detail = serde_json::json!({ "by": by });
    act(office, tx, follow_up, &Act { occasion, kind, detail, at: now, words: None })
}
