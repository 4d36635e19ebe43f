//! Who is asked about a client: another address, name or language, other hours, one more contact,
//! another order.
//!
//! Never here: what a change leads to (open looks, R27).
//! Promises: what is typed goes through the same checks as in `fadewatch contact`, and into the
//! record in the same way; a page that has no room for all contacts ends none of them.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};

use super::client::{follow_up_in, follow_up_of};
use super::deed::{Wanted, news};
use super::enrol::languages;
use super::fields::Fields;
use super::form::{Field, Form, Problems};
use super::passes::News;
use super::refused::Refused;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::care::{AskedHours, ContactId};
use crate::config::{Language, MailAddress, PersonName, typed_hours};
use crate::overview::contacts::hours_left_open;
use crate::service::acts_by_hand::{order_contacts, set_contact, set_hours};
use crate::service::{Refusal, ServiceError};
use crate::store::{FollowUpId, Person};

/// A contact with what is known of them, and their hours.
type OnFile = (ContactId, Person, AskedHours);

/// The places in the calling order that the page has room for.
const TURNS: [(&str, &str); 9] = [
    ("asked_1", "Asked first"),
    ("asked_2", "Then, without an answer"),
    ("asked_3", "Third"),
    ("asked_4", "Fourth"),
    ("asked_5", "Fifth"),
    ("asked_6", "Sixth"),
    ("asked_7", "Seventh"),
    ("asked_8", "Eighth"),
    ("asked_9", "Ninth"),
];

/// `GET /client/REFERENCE/contact/CONTACT`
pub(super) async fn ask(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path((reference, contact)): Path<(String, String)>,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let (_, (contact, person, hours)) = on_file(&room, &reference, &contact).await?;
    let hours: Vec<String> = hours.stretches().iter().map(ToString::to_string).collect();
    let hours = hours.join("\n");
    let known = Fields::of([
        ("hours", hours.as_str()),
        ("name", person.name.as_str()),
        ("mail", person.mail.as_str()),
        ("language", person.language.as_str()),
    ]);
    Ok(form(&reference, Some(&contact), &known).shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/contact/CONTACT`
pub(super) async fn change(
    State(room): State<Arc<Room>>,
    Path((reference, contact)): Path<(String, String)>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let (follow_up, (contact, ..)) = on_file(&room, &reference, &contact).await?;
    let form = form(&reference, Some(&contact), &fields);
    let mut problems = Problems::default();
    match person(&fields, &mut problems) {
        Some((person, hours)) => {
            let what = format!("what is on file of contact {contact} was changed");
            set(&room, &visitor, (follow_up, (contact, person, hours)), what, form).await
        }
        None => Ok(form.shown(&visitor, &problems)),
    }
}

/// `GET /client/REFERENCE/contact`
pub(super) async fn ask_new(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
) -> Result<Response, Refused> {
    visitor.reports()?;
    follow_up_in(&room, &reference).await?;
    Ok(form(&reference, None, &Fields::default()).shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/contact`
pub(super) async fn add(
    State(room): State<Arc<Room>>,
    Path(reference): Path<String>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let (follow_up, _, on_file) = contacts_of(&room, &reference).await?;
    let form = form(&reference, None, &fields);
    let mut problems = Problems::default();
    let contact = match ContactId::new(fields.get("contact")) {
        Ok(contact) if on_file.iter().any(|(known, _)| *known == contact) => {
            problems.add("contact", "another contact of this client has it, now or before");
            None
        }
        Ok(contact) => Some(contact),
        Err(error) => {
            problems.add("contact", error.to_string());
            None
        }
    };
    match (contact, person(&fields, &mut problems)) {
        (Some(contact), Some((person, hours))) => {
            let what = format!("contact {contact} is asked too, last of all");
            set(&room, &visitor, (follow_up, (contact, person, hours)), what, form).await
        }
        _ => Ok(form.shown(&visitor, &problems)),
    }
}

/// `GET /client/REFERENCE/contacts`
pub(super) async fn ask_order(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let (_, asked, on_file) = contacts_of(&room, &reference).await?;
    let turns = TURNS.iter().zip(&asked).map(|((name, _), contact)| (*name, contact.as_str()));
    let form = order_form(&reference, &on_file, &Fields::of(turns));
    Ok(form.shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/contacts`
pub(super) async fn order(
    State(room): State<Arc<Room>>,
    Path(reference): Path<String>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let (follow_up, asked, on_file) = contacts_of(&room, &reference).await?;
    let form = order_form(&reference, &on_file, &fields);
    let on_file: Vec<ContactId> = on_file.into_iter().map(|(contact, _)| contact).collect();
    let mut problems = Problems::default();
    let contacts = in_order(&fields, &on_file, &mut problems);
    if form.against.is_some() || !problems.is_empty() {
        return Ok(form.shown(&visitor, &problems));
    }
    let left_out: Vec<&str> =
        asked.iter().filter(|c| !contacts.contains(c)).map(ContactId::as_str).collect();
    let ended = match left_out.as_slice() {
        [] => String::new(),
        left_out => format!("; no longer asked: {}", left_out.join(", ")),
    };
    let what = format!("{} changed who is asked about {reference}{ended}", visitor.name);
    let wanted = Wanted::by_form(&form, &visitor, &fields, follow_up, what);
    let who = visitor.who.clone();
    let settled = wanted.settle(&room, move |office, tx, id, now| {
        order_contacts(office, tx, id, (&who, contacts.clone()), now)
    });
    Ok(settled.await?.answered(form, &visitor))
}

/// The follow-up of a client, who is asked, in calling order, and everybody who is on file, with
/// their names.
async fn contacts_of(
    room: &Arc<Room>,
    reference: &str,
) -> Result<(FollowUpId, Vec<ContactId>, Vec<(ContactId, String)>), Refused> {
    let reference = reference.to_owned();
    room.read(move |_, view| {
        let follow_up = follow_up_of(view, &reference)?;
        let asked = view.load(follow_up)?.state.terms.contacts;
        let mut contacts = asked.clone();
        let before = view.contacts_on_file(follow_up)?;
        contacts.extend(before.into_iter().filter(|contact| !asked.contains(contact)));
        let mut on_file = Vec::new();
        for contact in contacts {
            let person = view.contact(follow_up, &contact)?;
            on_file.push((contact, person.map_or_else(String::new, |person| person.name)));
        }
        Ok((follow_up, asked, on_file))
    })
    .await
}

/// A contact with what is known of them.
async fn on_file(
    room: &Arc<Room>,
    reference: &str,
    contact: &str,
) -> Result<(FollowUpId, OnFile), Refused> {
    let contact = ContactId::new(contact).map_err(|_| Refused::NotFound)?;
    let reference = reference.to_owned();
    room.read(move |_, view| {
        let follow_up = follow_up_of(view, &reference)?;
        let person = view.contact(follow_up, &contact)?.ok_or(Refused::NotFound)?;
        let hours = view.load(follow_up)?.state.hours_of(&contact).clone();
        Ok((follow_up, (contact, person, hours)))
    })
    .await
}

/// Puts a contact on file; what stands against the address stands at its field.
async fn set(
    room: &Room,
    visitor: &Visitor,
    (follow_up, (contact, person, hours)): (FollowUpId, OnFile),
    what: String,
    form: Form,
) -> Result<Response, Refused> {
    let who = visitor.who.clone();
    let done = room.perform(move |office, tx, now| {
        let acted = set_contact(office, tx, follow_up, (&who, &contact, &person), now)?;
        let timed = set_hours(office, tx, follow_up, (&who, &contact, &hours), now)?;
        let after = tx.load(follow_up)?;
        let plan = office.plan(tx, &after.plan)?;
        let open = if timed.is_some() { hours_left_open(&after.state, &plan) } else { Vec::new() };
        Ok((acted, open))
    });
    match done.await {
        Ok((acted, open)) => {
            let what = std::iter::once(what).chain(open).collect::<Vec<_>>().join("; ");
            let nothing_else = || News { what: what.clone(), ..News::default() };
            visitor.tell(acted.map_or_else(nothing_else, |acted| news(&what, &acted)));
            Ok(Redirect::to(&form.back).into_response())
        }
        Err(ServiceError::Refused(why @ (Refusal::OwnAddress | Refusal::AddressTaken(_)))) => {
            let mut problems = Problems::default();
            problems.add("mail", why.to_string());
            Ok(form.shown(visitor, &problems))
        }
        Err(ServiceError::Refused(why)) => {
            let form = Form { against: Some(why.to_string()), ..form };
            Ok(form.shown(visitor, &Problems::default()))
        }
        Err(failed) => Err(failed.into()),
    }
}

/// Name, address, language and hours, each checked.
fn person(fields: &Fields, problems: &mut Problems) -> Option<(Person, AskedHours)> {
    let name = PersonName::new(fields.get("name"));
    let mail = MailAddress::new(fields.get("mail"));
    let language = Language::new(fields.get("language"));
    let hours = typed_hours(fields.get("hours"));
    if let Err(why) = &hours {
        problems.add("hours", why);
    }
    for (field, error) in [
        ("name", name.as_ref().err()),
        ("mail", mail.as_ref().err()),
        ("language", language.as_ref().err()),
    ] {
        if let Some(error) = error {
            problems.add(field, error.to_string());
        }
    }
    let person = Person {
        name: name.ok()?.as_str().to_owned(),
        mail: mail.ok()?.as_str().to_owned(),
        language: language.ok()?.as_str().to_owned(),
    };
    Some((person, hours.ok()?))
}

/// The contacts in the order that was chosen.
fn in_order(fields: &Fields, on_file: &[ContactId], problems: &mut Problems) -> Vec<ContactId> {
    let mut contacts: Vec<ContactId> = Vec::new();
    for (name, _) in TURNS {
        let chosen = fields.get(name);
        if chosen.is_empty() {
            continue;
        }
        match on_file.iter().find(|contact| contact.as_str() == chosen) {
            None => problems.add(name, "choose from the list"),
            Some(contact) if contacts.contains(contact) => {
                problems.add(name, format!("{contact} is asked earlier already"));
            }
            Some(contact) => contacts.push(contact.clone()),
        }
    }
    if contacts.is_empty() && problems.is_empty() {
        problems.add(TURNS[0].0, "somebody has to be asked");
    }
    contacts
}

fn form(reference: &str, contact: Option<&ContactId>, typed: &Fields) -> Form {
    let mut fields = Vec::new();
    if contact.is_none() {
        fields.push(
            Field::line("contact", "Reference", typed)
                .hint("Such as third or evening; it stands in the record, so no name."),
        );
    }
    // Somebody may be on file with a language that the list lacks: it is not changed by a slip.
    let known = typed.get("language");
    let is_listed = known.is_empty() || languages().any(|(tag, _)| tag == known);
    let other = (!is_listed).then(|| (known.to_owned(), known.to_owned()));
    fields.push(Field::line("name", "Name they are greeted by", typed));
    let address = Field::of_type("email", "mail", "Mail address", typed);
    fields.push(match contact {
        None => address,
        Some(_) => address.hint(
            "Another address makes them reachable again; what they have not got is asked of them.",
        ),
    });
    fields.push(Field::menu("language", "Language", languages().chain(other), typed));
    fields.push(Field::area("hours", "Asked in these hours", 3, typed).hint(
        "Such as Mon-Fri 07:00-15:00, by the client's clock, each on a line of its own; left out, \
         at any hour. Who is on is asked before the others.",
    ));
    let (title, lead, action) = match contact {
        Some(contact) => (
            format!("Contact {contact} of {reference}"),
            String::new(),
            format!("/client/{reference}/contact/{contact}"),
        ),
        None => (
            format!("Another contact for {reference}"),
            "They are asked last, until you change the order.".to_owned(),
            format!("/client/{reference}/contact"),
        ),
    };
    Form {
        title,
        lead,
        action,
        fields,
        button: "Save",
        back: format!("/client/{reference}"),
        against: None,
    }
}

fn order_form(reference: &str, on_file: &[(ContactId, String)], typed: &Fields) -> Form {
    let nobody = || (String::new(), "nobody".to_owned());
    let choices = || {
        let contacts = on_file
            .iter()
            .map(|(contact, name)| (contact.to_string(), format!("{contact}: {name}")));
        std::iter::once(nobody()).chain(contacts)
    };
    let turns = TURNS.iter().take(on_file.len());
    let fields = turns.map(|(name, label)| Field::menu(name, label, choices(), typed)).collect();
    let too_many = on_file.len() > TURNS.len();
    Form {
        title: format!("Who is asked about {reference}"),
        lead:
            "Whoever is not chosen is asked no longer; they stay on file and can be chosen again."
                .to_owned(),
        action: format!("/client/{reference}/contacts"),
        fields,
        button: "Save",
        back: format!("/client/{reference}"),
        against: too_many.then(|| {
            "this client has more contacts than the page has room for: use `fadewatch contact`"
                .to_owned()
        }),
    }
}
