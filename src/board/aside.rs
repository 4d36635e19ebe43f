//! Mail that was set aside: its words, and filing it for the contact who said it.
//!
//! Never here: why a mail is set aside (`service::answers`).
//! Promises: the words are shown as they came, cut but never changed; a mail is filed with what it
//! led to in one transaction, and once only.

use std::sync::Arc;

use askama::Template;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use super::client::follow_up_of;
use super::deed::{Settled, Wanted};
use super::page::{Frame, page_with};
use super::passes::News;
use super::refused::Refused;
use super::report::SAID;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::care::{ContactId, Reading, Verdict};
use crate::follow_up::Instant;
use crate::overview;
use crate::overview::moments::moment;
use crate::reply;
use crate::reply::letter;
use crate::service::Office;
use crate::service::acts_by_hand::{self, PhoneReport, answering};
use crate::store::{
    Filing, FollowUpId, InboxId, InboxRecord, InboxStatus, ListedStanding, OccasionRecord,
    PersonRef, View,
};

/// Mails on the page, the newest.
const SHOWN_MAX: u32 = 50;
/// Characters of a mail that are shown; the mail itself has them all.
const WORDS_CHARS_MAX: usize = 2000;

#[derive(Template)]
#[template(path = "aside.html", config = "src/board/pages/askama.toml")]
struct AsidePage {
    frame: Frame,
    mails: Vec<SetAside>,
    people: Vec<Speaker>,
    said: [(Reading, &'static str); 8],
    problem: Option<Unfiled>,
}

/// A filing that did not go through: what is wrong, and what was chosen, which is kept.
#[derive(Clone)]
struct Unfiled {
    number: i64,
    what: &'static str,
    speaker: String,
    reading: Option<Reading>,
}

struct SetAside {
    number: i64,
    came_at: String,
    why: String,
    from: String,
    words: String,
    /// Who probably said it, as a value of the menu.
    speaker: String,
    /// What it probably says.
    reading: Option<Reading>,
}

/// A contact who may have said it.
struct Speaker {
    /// `A7/first`.
    value: String,
    label: String,
}

impl SetAside {
    fn is_by(&self, speaker: &Speaker) -> bool {
        self.speaker == speaker.value
    }

    fn reads_as(&self, reading: &Reading) -> bool {
        self.reading == Some(*reading)
    }

    fn problem(&self, problem: &Option<Unfiled>) -> Option<&'static str> {
        problem.as_ref().filter(|unfiled| unfiled.number == self.number).map(|unfiled| unfiled.what)
    }

    /// As it is, but with what somebody has chosen for it already.
    fn chosen(self, problem: &Option<Unfiled>) -> Self {
        match problem {
            Some(Unfiled { number, speaker, reading, .. }) if *number == self.number => {
                Self { speaker: speaker.clone(), reading: *reading, ..self }
            }
            _ => self,
        }
    }
}

/// `GET /aside`
pub(super) async fn show(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Result<Response, Refused> {
    visitor.reports()?;
    shown(&room, &visitor, None).await
}

async fn shown(
    room: &Arc<Room>,
    visitor: &Visitor,
    problem: Option<Unfiled>,
) -> Result<Response, Refused> {
    let frame = Frame::of(visitor, "Mail that was set aside");
    let status = if problem.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let page_read = room
        .read(move |office, view| {
            let mails = view.received_set_aside(SHOWN_MAX)?;
            let mails = mails
                .into_iter()
                .map(|record| set_aside(office, view, record).map(|mail| mail.chosen(&problem)));
            let mails = mails.collect::<Result<Vec<_>, _>>()?;
            let people = speakers(view)?;
            Ok(AsidePage { frame, mails, people, said: SAID, problem })
        })
        .await?;
    Ok(page_with(status, &page_read))
}

fn set_aside(office: &Office, view: &View<'_>, record: InboxRecord) -> Result<SetAside, Refused> {
    let letter = view.raw_received(record.id)?.map(|raw| letter::open(&raw));
    let words = letter.as_ref().map_or("", |letter| letter.words.trim());
    let (mut speaker, mut reading) = (String::new(), None);
    if let (Some(follow_up), Some(PersonRef::Contact(contact))) = (record.follow_up, &record.person)
    {
        let loaded = view.load(follow_up)?;
        speaker = format!("{}/{contact}", loaded.client);
        let language = view.contact(follow_up, contact)?.map(|person| person.language);
        let answering = answering(&loaded.state, contact);
        let read = reply::read(&office.lexicons, &language.unwrap_or_default(), answering, words);
        reading = Some(read.verdict.reading);
    }
    Ok(SetAside {
        number: record.id.number(),
        came_at: moment(&office.calendar, record.received_at),
        why: record.note,
        words: words.chars().take(WORDS_CHARS_MAX).collect(),
        from: letter.and_then(|letter| letter.from).unwrap_or_else(|| "no sender".to_owned()),
        speaker,
        reading,
    })
}

fn speakers(view: &View<'_>) -> Result<Vec<Speaker>, Refused> {
    let mut speakers = Vec::new();
    for listed in overview::all(view)? {
        if listed.standing == ListedStanding::Closed {
            continue;
        }
        for contact in &view.load(listed.follow_up)?.state.terms.contacts {
            let name = view.contact(listed.follow_up, contact)?.map(|person| person.name);
            let label =
                name.map_or_else(|| contact.to_string(), |name| format!("{name} ({contact})"));
            speakers.push(Speaker {
                value: format!("{}/{contact}", listed.client),
                label: format!("{}: {label}", listed.client),
            });
        }
    }
    Ok(speakers)
}

/// `POST /aside/NUMBER`
pub(super) async fn file(
    State(room): State<Arc<Room>>,
    Path(number): Path<i64>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let id = InboxId::from_number(number);
    if fields.get("act") == "drop" {
        return put_away(&room, &visitor, id).await;
    }
    let said = SAID.iter().find(|(reading, _)| reading.name() == fields.get("reading"));
    let unfiled = |what| {
        let (speaker, reading) = (fields.get("speaker").to_owned(), said.map(|(said, _)| *said));
        Some(Unfiled { number, what, speaker, reading })
    };
    let Some((reading, _)) = said else {
        return shown(&room, &visitor, unfiled("choose what it says")).await;
    };
    let Some((reference, contact)) = fields.get("speaker").split_once('/') else {
        return shown(&room, &visitor, unfiled("choose who wrote it")).await;
    };
    let Ok(contact) = ContactId::new(contact) else { return Err(Refused::Unreadable) };
    let (reference, reading) = (reference.to_owned(), *reading);
    let wanted_by = (reference.clone(), contact.clone());
    let (follow_up, verdict, words) =
        room.read(move |office, view| said_in(office, view, id, &wanted_by, reading)).await?;
    let who = visitor.who.clone();
    let report = PhoneReport { by: contact.clone(), taken_by: who, verdict, words };
    let wanted = Wanted {
        what: format!("{reference}: the mail counts as said by {contact}: {reading}"),
        action: format!("/aside/{number}"),
        back: "/aside".to_owned(),
        visitor: &visitor,
        fields: &fields,
        follow_up,
    };
    let settled = wanted.settle(&room, move |office, tx, follow_up, now| {
        tx.file_received(
            id,
            &Filing {
                follow_up: Some(follow_up),
                person: Some(PersonRef::Contact(report.by.clone())),
                note: "filed by a person".to_owned(),
            },
        )?;
        acts_by_hand::report(office, tx, follow_up, &report, now)
    });
    match settled.await? {
        Settled::Answer(answer) => Ok(answer),
        Settled::Against(_) => {
            shown(&room, &visitor, unfiled("the follow-up does not take it")).await
        }
    }
}

/// What somebody says in a mail that waits, with its words.
fn said_in(
    office: &Office,
    view: &View<'_>,
    id: InboxId,
    (reference, contact): &(String, ContactId),
    reading: Reading,
) -> Result<(FollowUpId, Verdict, Option<String>), Refused> {
    // One that somebody else has filed meanwhile is not filed again.
    if view.received(id)?.status != InboxStatus::SetAside {
        return Err(Refused::NotFound);
    }
    let follow_up = follow_up_of(view, reference)?;
    let state = view.load(follow_up)?.state;
    if !state.terms.contacts.contains(contact) {
        return Err(Refused::NotFound);
    }
    let language = view.contact(follow_up, contact)?.map(|person| person.language);
    let letter = view.raw_received(id)?.map(|raw| letter::open(&raw));
    let words = letter.map(|letter| letter.words.trim().to_owned());
    let words = words.filter(|words| !words.is_empty());
    let answering = answering(&state, contact);
    let read = reply::read(
        &office.lexicons,
        &language.unwrap_or_default(),
        answering,
        words.as_deref().unwrap_or_default(),
    );
    // Where the person reads it as the program does, places and minutes of the words count too.
    let verdict = if read.verdict.reading == reading {
        read.verdict
    } else {
        Verdict { sites: read.verdict.sites, ..Verdict::bare(reading) }
    };
    Ok((follow_up, verdict, words))
}

async fn put_away(room: &Arc<Room>, visitor: &Visitor, id: InboxId) -> Result<Response, Refused> {
    let record = room.read(move |_, view| Ok(view.received(id)?)).await?;
    if record.status != InboxStatus::SetAside {
        return Err(Refused::NotFound);
    }
    let who = visitor.who.clone();
    room.perform(move |_, tx, now: Instant| {
        let filing = Filing {
            follow_up: record.follow_up,
            person: record.person.clone(),
            note: "read by a person: nothing to record".to_owned(),
        };
        tx.file_received(id, &filing)?;
        tx.add_occasion(&OccasionRecord {
            follow_up: record.follow_up,
            kind: "aside".to_owned(),
            at: now,
            detail: serde_json::json!({ "by": who, "inbox": id.number() }),
        })?;
        Ok(())
    })
    .await?;
    visitor.tell(News { what: "The mail is put away".to_owned(), ..News::default() });
    Ok(Redirect::to("/aside").into_response())
}
