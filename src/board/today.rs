//! Today: all follow-ups, the ones that need somebody first.
//!
//! Never here: which group a follow-up is in (`standing`).
//! Promises: what is stopped stands first; every row says what is to be done.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::page::{Frame, page};
use super::refused::Refused;
use super::room::Room;
use super::standing::{Group, Row};
use super::visitor::Visitor;
use crate::care::ClinicianId;
use crate::follow_up;
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

/// All follow-ups that run, in order, as they were read.
pub(super) struct Rows {
    rows: Vec<Row>,
    ended: usize,
    read_at: Instant,
    /// What the service had committed then, and how many acts were done on the board, by count.
    commits: u64,
    acts: u64,
}

/// How long rows count where nothing was committed, since waiting times grow.
const ROWS_LAST: Duration = Duration::from_secs(15);
/// How long they count although the service has committed something: many pages listen for that.
const ROWS_LAST_IN_A_RUSH: Duration = Duration::from_secs(2);

impl Rows {
    /// Whether they may still be shown. Whoever acts on the board sees at once what it led to.
    fn holds(&self, commits: u64, acts: u64) -> bool {
        let lasts = if commits == self.commits { ROWS_LAST } else { ROWS_LAST_IN_A_RUSH };
        acts == self.acts && self.read_at.elapsed() < lasts
    }
}

/// `GET /`
pub(super) async fn show(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Result<Response, Refused> {
    let frame = Frame::of(&visitor, "Today").live();
    let reports = visitor.role.reports();
    let all = rows(&room).await?;
    let now = room.now();
    let page_read =
        room.read(move |office, view| read(office, view, (frame, &all), (reports, now))).await?;
    Ok(page(&page_read))
}

/// All rows as they were within the last seconds; one reading serves all who ask meanwhile.
async fn rows(room: &Arc<Room>) -> Result<Arc<Rows>, Refused> {
    let mut kept = room.rows.lock().await;
    let commits = *room.commits.borrow();
    let acts = room.acts.load(Ordering::Relaxed);
    if let Some(kept) = kept.as_ref().filter(|kept| kept.holds(commits, acts)) {
        return Ok(Arc::clone(kept));
    }
    let now = room.now();
    let read = room
        .read(move |office, view| {
            let (mut rows, mut ended) = (Vec::new(), 0);
            let clinic = (office.calendar.zone_name(), now);
            for listed in overview::all(view)? {
                if listed.standing == ListedStanding::Closed {
                    ended += 1;
                    continue;
                }
                let stand = Stand::load(office, view, listed.follow_up, now)?;
                rows.push(Row::of(&stand, view.call_name(listed.follow_up)?, clinic));
            }
            rows.sort_by_key(Row::order);
            Ok(Rows { rows, ended, read_at: Instant::now(), commits, acts })
        })
        .await?;
    Ok(Arc::clone(kept.insert(Arc::new(read))))
}

fn read(
    office: &Office,
    view: &View<'_>,
    (frame, all): (Frame, &Rows),
    (reports, now): (bool, follow_up::Instant),
) -> Result<Today, Refused> {
    let (rows, ended) = (all.rows.clone(), all.ended);
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
