//! Doing an act on a follow-up: what would follow is shown first where sitting may go on by it or
//! the follow-up ends; then it is done, and told.
//!
//! Never here: which acts there are.
//! Promises: what is confirmed is what was shown: where something else would follow by now, it is
//! shown again; an act that changed nothing is not shown as done.

use askama::Template;
use axum::response::{IntoResponse, Redirect, Response};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use sha2::{Digest as _, Sha256};

use super::fields::{CONFIRMED, FORM_KEY, Fields};
use super::form::{Form, Problems};
use super::page::{Frame, page};
use super::passes::News;
use super::refused::Refused;
use super::room::{Deed, Room};
use super::visitor::Visitor;
use crate::follow_up::{Calendar, Event};
use crate::overview::telling::{keeps_the_books, told};
use crate::rehearsal::phrases::aside_reason;
use crate::service::{Acted, ServiceError};
use crate::store::FollowUpId;

/// An act that somebody wants done.
pub(super) struct Wanted<'a> {
    pub(super) visitor: &'a Visitor,
    pub(super) fields: &'a Fields,
    pub(super) follow_up: FollowUpId,
    /// The act in a sentence, for whom.
    pub(super) what: String,
    /// Where its form is sent.
    pub(super) action: String,
    /// The page afterwards.
    pub(super) back: String,
}

/// How an act ended.
pub(super) enum Settled {
    /// It was done, or is to be confirmed: this is the answer.
    Answer(Response),
    /// It was refused, for this reason: the form is shown again.
    Against(String),
}

impl Settled {
    /// The answer; what was refused shows its form again, with the reason.
    pub(super) fn answered(self, form: Form, visitor: &Visitor) -> Response {
        match self {
            Self::Answer(answer) => answer,
            Self::Against(why) => {
                Form { against: Some(why), ..form }.shown(visitor, &Problems::default())
            }
        }
    }
}

#[derive(Template)]
#[template(path = "confirm.html", config = "src/board/pages/askama.toml")]
struct Confirm<'a> {
    frame: Frame,
    what: &'a str,
    followed: Vec<String>,
    action: &'a str,
    back: &'a str,
    said: Vec<&'a (String, String)>,
    confirmed: String,
    is_shown_again: bool,
}

impl<'a> Wanted<'a> {
    /// An act that a form asks for.
    pub(super) fn by_form(
        form: &Form,
        visitor: &'a Visitor,
        fields: &'a Fields,
        follow_up: FollowUpId,
        what: String,
    ) -> Self {
        let (action, back) = (form.action.clone(), form.back.clone());
        Self { visitor, fields, follow_up, what, action, back }
    }

    /// Does the act, or asks first.
    pub(super) async fn settle(&self, room: &Room, deed: impl Deed) -> Result<Settled, Refused> {
        let would = match room.rehearse(self.follow_up, deed.clone()).await {
            Ok(would) => would,
            Err(ServiceError::Refused(refusal)) => {
                return Ok(Settled::Against(refusal.to_string()));
            }
            Err(failed) => return Err(failed.into()),
        };
        let followed = followed(&would);
        if lets_sit_or_ends(&would) {
            let shown = fingerprint(&followed);
            let confirmed = self.fields.get(CONFIRMED);
            if confirmed != shown {
                let is_shown_again = !confirmed.is_empty();
                return Ok(Settled::Answer(self.ask(followed, shown, is_shown_again)));
            }
        }
        let follow_up = self.follow_up;
        let acted =
            match room.perform(move |office, tx, now| deed(office, tx, follow_up, now)).await {
                Ok(acted) => acted,
                Err(ServiceError::Refused(refusal)) => {
                    return Ok(Settled::Against(refusal.to_string()));
                }
                Err(failed) => return Err(failed.into()),
            };
        self.visitor.tell(news(&self.what, &acted));
        Ok(Settled::Answer(Redirect::to(&self.back).into_response()))
    }

    fn ask(&self, followed: Vec<String>, confirmed: String, is_shown_again: bool) -> Response {
        page(&Confirm {
            frame: Frame::of(self.visitor, "Is this right?"),
            what: &self.what,
            followed,
            action: &self.action,
            back: &self.back,
            said: self.fields.said().collect(),
            confirmed,
            is_shown_again,
        })
    }
}

/// What an act led to, to be told on the next page.
pub(super) fn news(what: &str, acted: &Acted) -> News {
    let set_aside = acted.entries.iter().find_map(|entry| match &entry.event {
        Event::SetAside { why, .. } => Some(*why),
        _ => None,
    });
    match set_aside {
        Some(why) => {
            News { what: aside_reason(why).to_owned(), followed: Vec::new(), is_refused: true }
        }
        None => News { what: what.to_owned(), followed: followed(acted), is_refused: false },
    }
}

/// What follows from an act, a line an entry.
fn followed(acted: &Acted) -> Vec<String> {
    let zone: &Calendar = &acted.state.terms.zone;
    let entries = acted.entries.iter().filter(|entry| !keeps_the_books(&entry.event));
    entries.map(|entry| told(&entry.event, zone)).collect()
}

/// Whether somebody must see first what would follow.
fn lets_sit_or_ends(acted: &Acted) -> bool {
    acted.entries.iter().any(|entry| {
        matches!(
            entry.event,
            Event::Resumed { .. }
                | Event::Unsuspended
                | Event::Unpaused { .. }
                | Event::Advanced { .. }
                | Event::Routine { .. }
                | Event::Closed { .. }
        )
    })
}

/// What was shown, without the minutes of the clock, which go on while somebody reads.
fn fingerprint(followed: &[String]) -> String {
    let lines = followed.join("\n").replace(|c: char| c.is_ascii_digit(), "");
    URL_SAFE_NO_PAD.encode(Sha256::digest(lines.as_bytes()))
}
