//! Who gets alerts on which days.
//!
//! Never here: what a change of cover leads to (`service::covering`).
//! Promises: only somebody who may decide is put on cover; observers see it too.

use std::sync::Arc;

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use chrono::NaiveDate;

use super::fields::Fields;
use super::form::{Field, Form, Problems};
use super::page::{Frame, page_with};
use super::passes::News;
use super::refused::Refused;
use super::room::Room;
use super::today::names;
use super::visitor::{Sent, Visitor};
use crate::care::ClinicianId;
use crate::care::rota::Shift;
use crate::service::covering::{self, ShiftFault};

#[derive(Template)]
#[template(path = "cover.html", config = "src/board/pages/askama.toml")]
struct CoverPage {
    frame: Frame,
    now: String,
    usual: String,
    ahead: Vec<(String, String, String)>,
    reports: bool,
}

const TURNS: [(&str, &str); 3] =
    [("first", "Called first"), ("second", "Called second"), ("third", "Called third")];

/// `GET /cover`
pub(super) async fn show(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Result<Response, Refused> {
    let now = room.now();
    let today = room.office.calendar.date(now);
    let (frame, reports) = (Frame::of(&visitor, "Cover"), visitor.role.reports());
    let shown = room
        .read(move |office, view| {
            let rota = view.rota()?;
            let ahead = rota.ahead(today).into_iter().map(|shift| {
                let Shift { from, until, cover } = shift;
                (from.to_string(), until.to_string(), names(office, &cover))
            });
            Ok(CoverPage {
                frame,
                now: names(office, &covering::on(office, &rota, today)),
                usual: names(office, &office.clinic.cover),
                ahead: ahead.collect(),
                reports,
            })
        })
        .await?;
    Ok(page_with(StatusCode::OK, &shown))
}

/// `GET /cover/set`
pub(super) async fn ask(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let today = room.office.calendar.date(room.now()).to_string();
    let begun = Fields::of([("from", today.as_str())]);
    Ok(form(&room, &begun).shown(&visitor, &Problems::default()))
}

/// `POST /cover/set`
pub(super) async fn set(
    State(room): State<Arc<Room>>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let today = room.office.calendar.date(room.now());
    let mut problems = Problems::default();
    let shift = shift(&room, &fields, today, &mut problems);
    let Some(shift) = shift.filter(|_| problems.is_empty()) else {
        return Ok(form(&room, &fields).shown(&visitor, &problems));
    };
    let told = if shift.cover.is_empty() {
        "the usual order".to_owned()
    } else {
        names(&room.office, &shift.cover)
    };
    let what = format!("On cover from {} until {}: {told}", shift.from, shift.until);
    let who = visitor.who.clone();
    room.perform(move |office, tx, now| {
        covering::set_shift(office, tx, (&who, shift.clone()), now)
    })
    .await?;
    visitor.tell(News { what, ..News::default() });
    Ok(Redirect::to("/cover").into_response())
}

fn shift(room: &Room, fields: &Fields, today: NaiveDate, problems: &mut Problems) -> Option<Shift> {
    let mut day = |name: &'static str, text: &str| match text.parse::<NaiveDate>() {
        Ok(day) => Some(day),
        Err(_) => {
            problems.add(name, format!("`{text}` is not a day such as {today}"));
            None
        }
    };
    let from = day("from", fields.get("from"));
    let until = match fields.get("until") {
        "" => from,
        text => day("until", text),
    };
    let mut cover: Vec<ClinicianId> = Vec::new();
    for (name, _) in TURNS {
        let text = fields.get(name);
        if text.is_empty() {
            continue;
        }
        let people = &room.office.clinic.clinicians;
        let found = people.iter().find(|person| person.id.as_str() == text);
        match found.filter(|person| person.role.decides()) {
            Some(person) if cover.contains(&person.id) => {
                problems.add(name, "one person is named twice");
            }
            Some(person) => cover.push(person.id.clone()),
            None => problems.add(name, "choose a clinician from the list"),
        }
    }
    match covering::shift(from?, until?, cover, today) {
        Ok(shift) => Some(shift),
        Err(fault) => {
            let field = if fault == ShiftFault::Over { "from" } else { "until" };
            problems.add(field, fault.to_string());
            None
        }
    }
}

fn form(room: &Room, typed: &Fields) -> Form {
    let people = room.office.clinic.clinicians.iter().filter(|person| person.role.decides());
    let people: Vec<(String, String)> =
        people.map(|person| (person.id.to_string(), person.name.as_str().to_owned())).collect();
    let mut fields = vec![
        Field::of_type("date", "from", "From", typed),
        Field::of_type("date", "until", "Until", typed)
            .hint("The last day, by the clinic's clock; left out, one day."),
    ];
    for (name, label) in TURNS {
        let nobody = (String::new(), "nobody".to_owned());
        let choices = std::iter::once(nobody).chain(people.iter().cloned());
        fields.push(Field::menu(name, label, choices, typed));
    }
    Form {
        title: "Set the cover".to_owned(),
        lead: "With nobody chosen, the usual order holds again on these days. A client with a \
               cover of their own keeps it."
            .to_owned(),
        action: "/cover/set".to_owned(),
        fields,
        button: "Set it",
        back: "/cover".to_owned(),
        against: None,
    }
}
