//! Enrolment: from a checked client file to a follow-up with its plan pinned.
//!
//! Never here: reading files; the rules.
//! Promises: names and addresses go to the table of people, the journal gets references; a client
//! is enrolled whole or not at all.

use super::covering;
use super::error::ServiceError;
use super::office::Office;
use super::refitting::ready_or_decided;
use crate::care::PlanVersion;
use crate::care::fitting::InSpiteOf;
use crate::config::{ClientFile, fitting_version, plan_version};
use crate::follow_up::{Basis, Calendar, Entry, Event, Instant, QuietHours, State, Terms};
use crate::store::{Enrolment, FollowUpId, OccasionRecord, Person, Tx};

/// A client who has just been enrolled.
#[derive(Clone, Debug)]
pub struct Enrolled {
    /// The follow-up.
    pub follow_up: FollowUpId,
    /// The version of the plan that it is pinned to.
    pub plan: PlanVersion,
}

/// Enrols a client. Nothing that lies before `now` is asked.
///
/// # Errors
/// When there is a fitting that is not ready, the reference is taken or the store refuses.
pub fn enroll(
    office: &Office,
    tx: &mut Tx<'_>,
    client: &ClientFile,
    by: &str,
    now: Instant,
) -> Result<Enrolled, ServiceError> {
    enroll_in_spite_of(office, tx, client, (by, None), now)
}

/// As `enroll`; a clinician may decide to begin on a fitting that is not ready.
///
/// # Errors
/// As `enroll`.
pub fn enroll_in_spite_of(
    office: &Office,
    tx: &mut Tx<'_>,
    client: &ClientFile,
    (by, decided): (&str, Option<&InSpiteOf>),
    now: Instant,
) -> Result<Enrolled, ServiceError> {
    let fitted = client
        .fitting
        .as_ref()
        .map(|fitting| ready_or_decided(office, fitting, &client.risk, decided))
        .transpose()?;
    let version = plan_version(&client.plan);
    tx.add_plan(&version, &client.plan, now)?;
    let terms = terms(office, client, version.clone());
    let from = terms.zone.midnight(terms.begins).max(now);
    let first = Entry { at: now, event: Event::Enrolled { terms: Box::new(terms), from } };
    let mut state = State::fold(None, &first);
    let mut entries = vec![first];
    if let (Some(fitting), Some(in_spite_of)) = (&client.fitting, &fitted) {
        let (version, date) = (fitting_version(fitting), fitting.date);
        let in_spite_of = in_spite_of.map(|decided| decided.by.clone());
        let event = Event::Fitted { version, date, in_spite_of };
        let entry = Entry { at: now, event };
        state.apply(&entry);
        entries.push(entry);
    }
    for contact in client.contacts.iter().filter(|contact| !contact.asked.is_any()) {
        let (contact, hours) = (contact.id.clone(), contact.asked.clone());
        let entry = Entry { at: now, event: Event::HoursSaid { contact, hours } };
        state.apply(&entry);
        entries.push(entry);
    }
    let cover = covering::cover(office, tx, &state, now)?;
    let next_due = state.next_due(&Basis { plan: &client.plan, cover: &cover });
    let occasion = OccasionRecord {
        follow_up: None,
        kind: "enroll".to_owned(),
        at: now,
        detail: serde_json::json!({ "by": by }),
    };
    let follow_up = tx.enroll(&Enrolment {
        client: &client.reference,
        occasion: &occasion,
        entries: &entries,
        state: &state,
        next_due,
    })?;
    if let (Some(fitting), Some(in_spite_of)) = (&client.fitting, fitted) {
        tx.add_fitting(follow_up, (&fitting_version(fitting), fitting), in_spite_of, now)?;
    }
    tx.put_call_name(follow_up, client.call_name.as_str())?;
    for contact in &client.contacts {
        let person = Person {
            name: contact.name.as_str().to_owned(),
            mail: contact.mail.as_str().to_owned(),
            language: contact.language.as_str().to_owned(),
        };
        tx.put_contact(follow_up, &contact.id, &person)?;
    }
    Ok(Enrolled { follow_up, plan: version })
}

fn terms(office: &Office, client: &ClientFile, plan: PlanVersion) -> Terms {
    let zone = Calendar::new(client.time_zone.as_str())
        .expect("OK because a client file with an unknown zone is refused");
    // The clinic's own cover may change later; only a cover that differs is the client's own.
    let own_cover = client.cover != office.clinic.cover;
    Terms {
        risk: client.risk.clone(),
        plan,
        zone,
        sittings_at: client.sittings_at.clone(),
        quiet: client.quiet.map(|quiet| QuietHours { from: quiet.from, to: quiet.to }),
        contacts: client.contacts.iter().map(|contact| contact.id.clone()).collect(),
        cover: if own_cover { client.cover.clone() } else { Vec::new() },
        begins: client.begins,
    }
}
