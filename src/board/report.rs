//! A finding that was said by phone.
//!
//! Never here: what a finding leads to.
//! Promises: it is taken as a reply would be, with who took it; words alone are read as a reply
//! would be, and what was understood is shown before it counts.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::response::Response;
use chrono::NaiveTime;

use super::client::follow_up_of;
use super::deed::Wanted;
use super::fields::Fields;
use super::form::{Field, Form, Problems};
use super::places::{chosen_sites, sites_field};
use super::refused::Refused;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::care::{ContactId, Minutes, Reading, Verdict};
use crate::reply;
use crate::service::acts_by_hand::{self, PhoneReport, answering};
use crate::store::FollowUpId;

/// What may be said, in words for every skin.
pub(super) const SAID: [(Reading, &str); 8] = [
    (Reading::Clear, "No mark: the skin looks and feels as always"),
    (Reading::Faded, "There was a mark, and it has gone"),
    (Reading::Marked, "A mark: redness or a darker or different-looking patch, warm or firm"),
    (Reading::Persisting, "The mark is still there"),
    (Reading::Alarming, "An alarming sign: open or blistered skin, or worse"),
    (Reading::NotLooked, "Nobody has looked"),
    (Reading::NoSitting, "No sitting took place"),
    (Reading::Started, "Sitting has started"),
];

/// What the form needs to know of the client.
struct About {
    follow_up: FollowUpId,
    /// The contacts by id and name, with their language and what they were last asked.
    contacts: Vec<(ContactId, String, String, reply::Answering)>,
}

/// `GET /client/REFERENCE/report`
pub(super) async fn ask(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let about = about(&room, &reference).await?;
    let form = form(&room, &reference, &about, &Fields::default());
    Ok(form.shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/report`
pub(super) async fn take(
    State(room): State<Arc<Room>>,
    Path(reference): Path<String>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let about = about(&room, &reference).await?;
    let (report, problems) = report(&room, &visitor, &about, &fields);
    let Some(report) = report.filter(|_| problems.is_empty()) else {
        return Ok(form(&room, &reference, &about, &fields).shown(&visitor, &problems));
    };
    let form = form(&room, &reference, &about, &fields);
    let what = format!("{reference}: said by {} by phone: {}", report.by, report.verdict.reading);
    let wanted = Wanted::by_form(&form, &visitor, &fields, about.follow_up, what);
    let settled = wanted.settle(&room, move |office, tx, id, now| {
        acts_by_hand::report(office, tx, id, &report, now)
    });
    Ok(settled.await?.answered(form, &visitor))
}

async fn about(room: &Arc<Room>, reference: &str) -> Result<About, Refused> {
    let reference = reference.to_owned();
    room.read(move |_, view| {
        let follow_up = follow_up_of(view, &reference)?;
        let state = view.load(follow_up)?.state;
        let mut contacts = Vec::new();
        for id in &state.terms.contacts {
            let person = view.contact(follow_up, id)?;
            let (name, language) =
                person.map(|person| (person.name, person.language)).unwrap_or_default();
            contacts.push((id.clone(), name, language, answering(&state, id)));
        }
        Ok(About { follow_up, contacts })
    })
    .await
}

fn form(room: &Room, reference: &str, about: &About, typed: &Fields) -> Form {
    let contacts = about.contacts.iter().map(|(id, name, ..)| {
        (id.to_string(), if name.is_empty() { id.to_string() } else { format!("{name} ({id})") })
    });
    let readings = SAID.map(|(reading, words)| (reading.name().to_owned(), words.to_owned()));
    Form {
        title: format!("A finding about {reference}, by phone"),
        lead: "Ask for open skin, fever, and (after a spinal cord injury at T6 or above) a \
               pounding headache with flushing: these need urgent help first."
            .to_owned(),
        action: format!("/client/{reference}/report"),
        fields: vec![
            Field::one("by", "Who is on the phone", contacts, typed),
            Field::one("reading", "What was found", readings, typed),
            sites_field(room, "Where", typed),
            Field::of_type("number", "minutes", "Minutes", typed)
                .hint("Until the mark was gone, or for which it has lasted."),
            Field::of_type("time", "at", "At what time", typed).hint(
                "When it was seen, or sitting started, by the client's clock, such as 10:20; \
                       left out, now.",
            ),
            Field::area("words", "In their own words", 3, typed).hint(
                "Shown to the clinician. Without a choice above, these words are read as a reply \
                 would be.",
            ),
        ],
        button: "Take it",
        back: format!("/client/{reference}"),
        against: None,
    }
}

fn report(
    room: &Room,
    visitor: &Visitor,
    about: &About,
    fields: &Fields,
) -> (Option<PhoneReport>, Problems) {
    let mut problems = Problems::default();
    let by = about.contacts.iter().find(|(id, ..)| id.as_str() == fields.get("by"));
    if by.is_none() {
        problems.add("by", "choose who said it");
    }
    let words = Some(fields.get("words")).filter(|words| !words.is_empty());
    let sites = chosen_sites(fields, &mut problems);
    let minutes = match fields.get("minutes") {
        "" => None,
        text => match text.parse() {
            Ok(minutes) => Some(Minutes::new(minutes)),
            Err(_) => {
                problems.add("minutes", format!("`{text}` is not a whole number of minutes"));
                None
            }
        },
    };
    let stated_at = match fields.get("at") {
        "" => None,
        text => match NaiveTime::parse_from_str(text, "%H:%M") {
            Ok(time) => Some(time),
            Err(_) => {
                problems.add("at", format!("`{text}` is not a time of day such as 10:20"));
                None
            }
        },
    };
    let chosen = SAID.iter().find(|(reading, _)| reading.name() == fields.get("reading"));
    let verdict = match (chosen, words, by) {
        (Some((reading, _)), ..) => {
            Some(Verdict { reading: *reading, sites, minutes, stated_at, step: None })
        }
        (None, Some(words), Some((_, _, language, answering))) => {
            let read = reply::read(&room.office.lexicons, language, *answering, words);
            let understood = read.verdict.reading;
            match SAID.iter().find(|(reading, _)| *reading == understood) {
                // Nothing counts that nobody has looked at: it is to be chosen above.
                Some((_, in_words)) => problems.add(
                    "reading",
                    format!("the words read as: {in_words}. Choose it if that is right"),
                ),
                None => problems.add("reading", "the words cannot be read; choose what was found"),
            }
            None
        }
        _ => {
            problems.add("reading", "choose one, or write the words down below");
            None
        }
    };
    let report = by.zip(verdict).map(|((by, ..), verdict)| PhoneReport {
        by: by.clone(),
        taken_by: visitor.who.clone(),
        verdict,
        words: words.map(str::to_owned),
    });
    (report, problems)
}
