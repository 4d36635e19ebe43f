//! Today: all follow-ups, the ones that need somebody first.
//!
//! Never here: which group a follow-up is in (`standing`).
//! Promises: what is stopped stands first; every row says what is to be done.

use std::sync::Arc;

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::page::{Frame, page};
use super::refused::Refused;
use super::room::Room;
use super::standing::{Group, Row};
use super::visitor::Visitor;
use crate::care::ClinicianId;
use crate::follow_up::Instant;
use crate::overview;
use crate::overview::moments::moment;
use crate::overview::standing::Stand;
use crate::service::{Office, covering};
use crate::store::{ListedStanding, View};

/// Mails set aside that are counted; more than that are `many`.
const ASIDE_MAX: u32 = 100;

#[derive(Template)]
#[template(path = "today.html", config = "src/board/pages/askama.toml")]
struct Today {
    frame: Frame,
    at: String,
    cover: String,
    groups: Vec<Listed>,
    ended: usize,
    /// Mails that were set aside; none for one who may not file them.
    aside: usize,
    is_empty: bool,
}

/// One group with its follow-ups.
struct Listed {
    group: Group,
    rows: Vec<Row>,
}

/// `GET /`
pub(super) async fn show(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Result<Response, Refused> {
    let frame = Frame::of(&visitor, "Today").live();
    let reports = visitor.role.reports();
    let now = room.now();
    let page_read =
        room.read(move |office, view| read(office, view, frame, (reports, now))).await?;
    Ok(page(&page_read))
}

fn read(
    office: &Office,
    view: &View<'_>,
    frame: Frame,
    (reports, now): (bool, Instant),
) -> Result<Today, Refused> {
    let all = overview::all(view)?;
    let running = all.iter().filter(|listed| listed.standing != ListedStanding::Closed);
    let mut rows = Vec::new();
    for listed in running {
        let stand = Stand::load(office, view, listed.follow_up, now)?;
        rows.push(Row::of(&stand, view.call_name(listed.follow_up)?, now));
    }
    let ended = all.len() - rows.len();
    rows.sort_by_key(Row::order);
    let is_empty = rows.is_empty();
    let mut groups: Vec<Listed> =
        Group::ALL.map(|group| Listed { group, rows: Vec::new() }).into_iter().collect();
    for row in rows {
        if let Some(listed) = groups.iter_mut().find(|listed| listed.group == row.group) {
            listed.rows.push(row);
        }
    }
    groups.retain(|listed| listed.group != Group::Ended);
    Ok(Today {
        frame,
        at: moment(&office.calendar, now),
        cover: names(office, &covering::clinic_cover(office, view, now)?),
        groups,
        ended,
        aside: if reports { view.received_set_aside(ASIDE_MAX)?.len() } else { 0 },
        is_empty,
    })
}

/// `A. Example, then B. Example`.
pub(super) fn names(office: &Office, people: &[ClinicianId]) -> String {
    let name = |id: &ClinicianId| {
        office.clinic.clinician(id).map_or(id.as_str(), |person| person.name.as_str()).to_owned()
    };
    people.iter().map(name).collect::<Vec<_>>().join(", then ")
}
