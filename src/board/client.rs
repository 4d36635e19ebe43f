//! A client's page: how they stand, their course, their contacts, their fitting, their journal.
//!
//! Never here: acts.
//! Promises: a look that nobody answered shows, and never as clear; every picture says in words
//! what it shows.

use std::sync::Arc;

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde::Deserialize;

use super::page::{Frame, page};
use super::places::LANGUAGE;
use super::refused::Refused;
use super::room::Room;
use super::standing::Row;
use super::today::names;
use super::visitor::Visitor;
use crate::care::ClientRef;
use crate::config::hours_in_words;
use crate::follow_up::{Entry, Instant};
use crate::notice::picture::{Drawing, Width};
use crate::overview::contacts::hours_left_open;
use crate::overview::journal_lines::{self, because_of};
use crate::overview::moments::{moment, time_of_day};
use crate::overview::standing::Stand;
use crate::overview::telling::{at_sites, finding, named};
use crate::rehearsal::phrases::alert_cause;
use crate::service::{Office, reviewing};
use crate::store::{FollowUpId, View};

/// Journal entries on the page, unless all are asked for.
const ENTRIES_SHOWN: u64 = 60;

#[derive(Template)]
#[template(path = "client.html", config = "src/board/pages/askama.toml")]
struct ClientPage {
    frame: Frame,
    row: Row,
    decides: bool,
    reports: bool,
    is_stopped: bool,
    is_paused: bool,
    is_closed: bool,
    has_alert: bool,
    alert: Option<String>,
    rungs: Vec<Rung>,
    facts: Vec<(&'static str, String)>,
    looks: Vec<OpenLook>,
    pictures: Vec<Picture>,
    contacts: Vec<Contact>,
    left_open: Vec<String>,
    fitting: Vec<String>,
    guide: Vec<String>,
    journal: Vec<Line>,
    has_more: bool,
}

/// A step of the ladder.
struct Rung {
    number: usize,
    sit: String,
    is_here: bool,
    is_behind: bool,
}

struct OpenLook {
    what: String,
    due: String,
    asking: String,
    ends: String,
}

struct Picture {
    title: &'static str,
    /// The drawing as a data URI.
    source: String,
    /// The same, drawn for a phone.
    on_phone: Option<String>,
    described: String,
}

impl Picture {
    fn new(title: &'static str, drawing: Drawing, on_phone: Option<&Drawing>) -> Self {
        let on_phone = on_phone.map(source);
        Self { title, source: source(&drawing), on_phone, described: drawing.described }
    }

    /// Whether it needs the whole width.
    fn is_wide(&self) -> bool {
        self.on_phone.is_some()
    }
}

fn source(drawing: &Drawing) -> String {
    format!("data:image/svg+xml;base64,{}", STANDARD.encode(&drawing.svg))
}

struct Contact {
    id: String,
    name: String,
    mail: String,
    /// The hours in which they are asked, where they have any.
    hours: Option<String>,
    is_on: bool,
    is_reachable: bool,
}

struct Line {
    at: String,
    rule: String,
    told: String,
    because: String,
    is_stop: bool,
}

/// What the address of the page may ask for.
#[derive(Deserialize)]
pub(super) struct Asked {
    journal: Option<String>,
}

/// The follow-up of a client.
///
/// # Errors
/// When there is none.
pub(super) fn follow_up_of(view: &View<'_>, reference: &str) -> Result<FollowUpId, Refused> {
    let client = ClientRef::new(reference).map_err(|_| Refused::NotFound)?;
    view.follow_up_of(&client)?.ok_or(Refused::NotFound)
}

/// As `follow_up_of`, for who needs nothing else of the data.
pub(super) async fn follow_up_in(room: &Arc<Room>, reference: &str) -> Result<FollowUpId, Refused> {
    let reference = reference.to_owned();
    room.read(move |_, view| follow_up_of(view, &reference)).await
}

/// `GET /client/REFERENCE`
pub(super) async fn show(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Response, Refused> {
    let now = room.now();
    let whole = asked.journal.as_deref() == Some("all");
    let frame = Frame::of(&visitor, "").live();
    let shown = room
        .read(move |office, view| read(office, view, (&visitor, frame), (&reference, whole), now))
        .await?;
    Ok(page(&shown))
}

fn read(
    office: &Office,
    view: &View<'_>,
    (visitor, frame): (&Visitor, Frame),
    (reference, whole): (&str, bool),
    now: Instant,
) -> Result<ClientPage, Refused> {
    let follow_up = follow_up_of(view, reference)?;
    let stand = Stand::load(office, view, follow_up, now)?;
    let state = &stand.state;
    let limit = if whole { u64::MAX } else { ENTRIES_SHOWN };
    let lines = journal_lines::newest(view, follow_up, &state.terms.zone, limit)?;
    let has_more = !whole && lines.len() as u64 == ENTRIES_SHOWN;
    let journal = lines.iter().rev().filter(|line| !line.keeps_the_books).map(|line| Line {
        at: line.shown_at.clone(),
        rule: line.rule.clone(),
        told: line.told.clone(),
        because: because_of(line),
        is_stop: line.told.starts_with("STOPPED"),
    });
    let row = Row::of(&stand, view.call_name(follow_up)?, (office.calendar.zone_name(), now));
    let (fitting, guide) = fitting_and_guide(office, view, follow_up, &stand)?;
    let title = if row.call_name.is_empty() {
        row.client.clone()
    } else {
        format!("{} ({})", row.client, row.call_name)
    };
    Ok(ClientPage {
        frame: Frame { title, ..frame },
        decides: visitor.role.decides(),
        reports: visitor.role.reports(),
        is_stopped: state.is_stopped(),
        is_paused: state.is_paused(),
        is_closed: state.is_closed(),
        has_alert: state.alert.is_some(),
        alert: alert(&stand),
        rungs: rungs(&stand),
        facts: facts(office, &stand),
        looks: open_looks(&stand),
        pictures: pictures(office, view, follow_up, &stand)?,
        contacts: contacts(view, follow_up, &stand, now)?,
        left_open: hours_left_open(state, &stand.plan),
        fitting,
        guide,
        journal: journal.collect(),
        has_more,
        row,
    })
}

fn alert(stand: &Stand) -> Option<String> {
    let (alert, zone) = (stand.state.alert.as_ref()?, &stand.state.terms.zone);
    let sent: Vec<String> =
        alert.sent.iter().map(|(who, count)| format!("{count} × to {who}")).collect();
    let taken = match &alert.acknowledged {
        Some((by, at)) => format!("Taken up by {by} at {}, not decided.", moment(zone, *at)),
        None => format!("Nobody has taken it up; it is with {}.", alert.holder),
    };
    Some(format!(
        "Alert {} of {}: {}. {taken} Sent {}.",
        alert.id,
        moment(zone, alert.raised_at),
        alert_cause(alert.cause),
        sent.join(", ")
    ))
}

fn rungs(stand: &Stand) -> Vec<Rung> {
    let steps = stand.ladder().map_or(&[][..], |ladder| &ladder.steps);
    let here = stand.state.step().map(|step| step.count() as usize);
    let rung = |(index, step): (usize, &crate::care::Step)| Rung {
        number: index + 1,
        sit: step.sit.to_string(),
        is_here: here == Some(index + 1),
        is_behind: here.is_none_or(|here| index + 1 < here),
    };
    steps.iter().enumerate().map(rung).collect()
}

fn facts(office: &Office, stand: &Stand) -> Vec<(&'static str, String)> {
    let (state, zone) = (&stand.state, &stand.state.terms.zone);
    let terms = &state.terms;
    let mut facts = vec![("Step", stand.step())];
    facts.extend(stand.run().map(|run| ("Clear sittings in a row", run)));
    if let (Some((at, _)), Some(what)) = (stand.next, stand.next_in_words()) {
        facts.push(("Next", format!("{}, {what}", moment(zone, at))));
    }
    facts.push(("Risk level", terms.risk.to_string()));
    let approval = stand.plan.approval.as_ref();
    let approved = approval.map_or_else(
        || ", NOT APPROVED".to_owned(),
        |a| format!(", approved by {} on {}", a.by, a.on),
    );
    facts.push(("Plan", format!("{}, version {}{approved}", stand.plan.id, terms.plan.short())));
    let times: Vec<String> = terms.sittings_at.iter().map(|time| time_of_day(*time)).collect();
    facts.push(("Sittings at", times.join(", ")));
    let quiet = terms
        .quiet
        .map(|quiet| format!("{} to {}", time_of_day(quiet.from), time_of_day(quiet.to)));
    facts.push(("Quiet hours", quiet.unwrap_or_else(|| "none".to_owned())));
    facts.push(("Clock", zone.zone_name().to_owned()));
    facts.push(("On cover", names(office, &stand.cover)));
    facts.push(("Began", terms.begins.to_string()));
    facts
}

fn open_looks(stand: &Stand) -> Vec<OpenLook> {
    let (state, zone) = (&stand.state, &stand.state.terms.zone);
    let open = state.unsettled_looks();
    let shown = open.map(|look| {
        let clock = look.clock.as_ref();
        let of = look.of.and_then(|of| state.look(of).found.as_ref());
        let mark = of.map_or_else(String::new, |found| {
            format!(": {}{}", finding(found.finding), at_sites(&found.sites))
        });
        OpenLook {
            what: format!("{}{mark}", named(look.kind, look.sitting)),
            due: moment(zone, look.due),
            asking: clock.map_or_else(|| "nobody yet".to_owned(), |clock| clock.asking.to_string()),
            ends: clock.map_or_else(|| "–".to_owned(), |clock| moment(zone, clock.over_at)),
        }
    });
    shown.collect()
}

fn pictures(
    office: &Office,
    view: &View<'_>,
    follow_up: FollowUpId,
    stand: &Stand,
) -> Result<Vec<Picture>, Refused> {
    let w = office.languages.wording(LANGUAGE);
    let journal = view.journal_of(follow_up)?;
    let entries: Vec<Entry> = journal.into_iter().map(|line| line.entry).collect();
    let (state, plan) = (&stand.state, &stand.plan);
    let course = |width| Drawing::course(w, state, plan, &entries, width);
    let marks = Drawing::marks(w, state, plan, Width::Page);
    let mut pictures =
        vec![Picture::new("Course", course(Width::Page), Some(&course(Width::Phone)))];
    pictures.extend(marks.map(|marks| Picture::new("Where marks were", marks, None)));
    Ok(pictures)
}

fn contacts(
    view: &View<'_>,
    follow_up: FollowUpId,
    stand: &Stand,
    now: Instant,
) -> Result<Vec<Contact>, Refused> {
    let state = &stand.state;
    let mut contacts = Vec::new();
    for id in &state.terms.contacts {
        let person = view.contact(follow_up, id)?;
        let (name, mail) = person.map(|person| (person.name, person.mail)).unwrap_or_default();
        let is_reachable = state.reachable().any(|reachable| reachable == id);
        let hours = state.hours_of(id);
        contacts.push(Contact {
            id: id.to_string(),
            name,
            mail,
            hours: (!hours.is_any()).then(|| hours_in_words(hours)),
            is_on: state.is_on_shift(id, now),
            is_reachable,
        });
    }
    Ok(contacts)
}

/// The fitting that is tested, and, where an alert waits, what to examine first.
fn fitting_and_guide(
    office: &Office,
    view: &View<'_>,
    follow_up: FollowUpId,
    stand: &Stand,
) -> Result<(Vec<String>, Vec<String>), Refused> {
    let kept = view.fitting(follow_up)?;
    let fitting =
        kept.as_ref().map_or_else(Vec::new, |kept| reviewing::three_lines(office, kept, LANGUAGE));
    let alert = stand.state.alert.as_ref();
    let question = alert.and_then(|alert| {
        let fitted = kept.as_ref().map(|kept| &kept.fitting);
        reviewing::question(alert.cause, &stand.state, fitted)
    });
    let guide = question
        .map_or_else(Vec::new, |question| reviewing::proposals(office, &question, LANGUAGE));
    Ok((fitting, guide))
}
