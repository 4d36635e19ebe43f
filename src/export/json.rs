//! Everything on file about one client as JSON: what somebody is to be given who asks what is
//! known about them.
//!
//! Never here: pictures, reports.
//! Promises: names, addresses and words that were erased are missing, and nothing is put in their
//! place; times carry the client's offset.

use serde_json::{Value, json};

use super::dossier::Dossier;
use crate::follow_up::Calendar;

/// The file as one document.
pub fn json(of: &Dossier) -> Value {
    let terms = &of.state.terms;
    let clock = |time: chrono::NaiveTime| time.format("%H:%M").to_string();
    json!({
        "client": of.client,
        "call_name": of.call_name,
        "clinic": of.clinic,
        "written_at": of.stamp(of.now),
        "time_zone": terms.zone.zone_name(),
        "time_zone_database": Calendar::database_version(),
        "risk": terms.risk,
        "plan": { "id": of.plan.id, "title": of.plan.title, "version": terms.plan },
        "begins": terms.begins,
        "sittings_at": terms.sittings_at.iter().map(|time| clock(*time)).collect::<Vec<_>>(),
        "quiet": terms.quiet.map(|quiet| [clock(quiet.from), clock(quiet.to)]),
        "cover": terms.cover,
        "contacts": of.contacts.iter().map(|(id, person)| json!({
            "id": id,
            "name": person.as_ref().map(|person| &person.name),
            "mail": person.as_ref().map(|person| &person.mail),
            "language": person.as_ref().map(|person| &person.language),
            "reachable": of.state.reachable().any(|reachable| reachable == id),
        })).collect::<Vec<_>>(),
        "fittings": of.fittings.iter().map(|kept| json!({
            "version": kept.version,
            "kept_at": of.stamp(kept.kept_at),
            "fitting": kept.fitting,
        })).collect::<Vec<_>>(),
        "sittings": of.state.sittings().collect::<Vec<_>>(),
        "looks": of.state.looks().collect::<Vec<_>>(),
        "standing": of.state.standing,
        "phase": of.state.phase,
        "alert": of.state.alert,
        "journal": of.journal.iter().map(|(line, occasion)| json!({
            "number": line.number,
            "rule": line.rule,
            "entry": line.entry,
            "occasion": occasion.kind,
            "occasion_detail": occasion.detail,
            "hash": line.hash.to_string(),
        })).collect::<Vec<_>>(),
        "sent": of.sent.iter().map(|mail| json!({
            "at": of.stamp(mail.created_at),
            "to": whom(&mail.person),
            "status": format!("{:?}", mail.status).to_lowercase(),
        })).collect::<Vec<_>>(),
        "received": of.received.iter().map(|(inbox, came_at, words)| json!({
            "number": inbox.number(),
            "at": of.stamp(*came_at),
            "words": words,
        })).collect::<Vec<_>>(),
        "mails": of.mails.iter().map(|kept| json!({
            "at": of.stamp(kept.at),
            "outgoing": kept.is_outgoing,
            "mail": String::from_utf8_lossy(&kept.raw),
        })).collect::<Vec<_>>(),
    })
}

fn whom(person: &crate::store::PersonRef) -> String {
    use crate::store::PersonRef;
    match person {
        PersonRef::Contact(id) => format!("contact {id}"),
        PersonRef::Clinician(id) => format!("clinician {id}"),
        PersonRef::Clinic => "the clinic".to_owned(),
    }
}
