//! Who asks for a page: the person behind the session cookie, and the forms that they send.
//!
//! Never here: signing in.
//! Promises: without a session that holds there is no visitor; a form without the key of its
//! session changes nothing; roles are those of the clinic file.

use std::sync::Arc;
use std::time::Instant;

use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::request::Parts;
use axum::http::{HeaderMap, header};

use super::fields::{FORM_KEY, Fields};
use super::passes::{News, Session, Use};
use super::refused::Refused;
use super::room::Room;
use crate::care::ClinicianId;
use crate::config::Role;

/// The header by which a page says that it looks for news by itself.
const BY_PAGE: &str = "x-by-page";

/// Somebody who is signed in.
pub(super) struct Visitor {
    pub(super) who: ClinicianId,
    pub(super) name: String,
    pub(super) role: Role,
    pub(super) clinic: String,
    pub(super) session: Session,
    room: Arc<Room>,
}

/// A form that somebody sent who is signed in.
pub(super) struct Sent {
    pub(super) visitor: Visitor,
    pub(super) fields: Fields,
}

impl Visitor {
    /// Goes on only for those who may decide.
    pub(super) fn decides(&self) -> Result<(), Refused> {
        if self.role.decides() { Ok(()) } else { Err(Refused::Role("Only a clinician")) }
    }

    /// Goes on only for those who may report.
    pub(super) fn reports(&self) -> Result<(), Refused> {
        if self.role.reports() {
            Ok(())
        } else {
            Err(Refused::Role("Only a clinician or an assistant"))
        }
    }

    /// What the last act led to, told once.
    pub(super) fn take_news(&self) -> Option<News> {
        self.room.passes.take_news(&self.session, Instant::now())
    }

    /// Tells what an act led to on the next page.
    pub(super) fn tell(&self, news: News) {
        self.room.passes.put_news(&self.session, news, Instant::now());
    }

    /// Who is signed in, if anybody is.
    pub(super) fn of(room: &Arc<Room>, headers: &HeaderMap) -> Option<Self> {
        let how = if headers.contains_key(BY_PAGE) { Use::ByPage } else { Use::ByPerson };
        let cookie = cookie(headers, room.cookie_name())?;
        let session = room.passes.session(cookie, how, Instant::now())?;
        // Somebody who has left the clinic is not on file any more.
        let person = room.office.clinic.clinician(&session.who)?;
        Some(Self {
            who: session.who.clone(),
            name: person.name.as_str().to_owned(),
            role: person.role,
            clinic: room.office.clinic.name.clone(),
            session,
            room: Arc::clone(room),
        })
    }
}

impl Room {
    /// The name of the session cookie. With `__Host-` a browser keeps it to this host and to HTTPS;
    /// on loopback without TLS browsers refuse that name.
    pub(super) fn cookie_name(&self) -> &'static str {
        if self.settings.address.is_https() { "__Host-fadewatch" } else { "fadewatch" }
    }
}

impl FromRequestParts<Arc<Room>> for Visitor {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, room: &Arc<Room>) -> Result<Self, Refused> {
        Self::of(room, &parts.headers).ok_or(Refused::SignedOut)
    }
}

impl FromRequest<Arc<Room>> for Sent {
    type Rejection = Refused;

    async fn from_request(request: Request, room: &Arc<Room>) -> Result<Self, Refused> {
        let visitor = Visitor::of(room, request.headers()).ok_or(Refused::SignedOutForm)?;
        let fields = Fields::from_request(request, room).await?;
        if !visitor.session.is_form_key(fields.get(FORM_KEY)) {
            return Err(Refused::NotOurs);
        }
        Ok(Self { visitor, fields })
    }
}

impl FromRequest<Arc<Room>> for Fields {
    type Rejection = Refused;

    async fn from_request(request: Request, room: &Arc<Room>) -> Result<Self, Refused> {
        let body = Bytes::from_request(request, room).await.map_err(|_| Refused::Unreadable)?;
        Self::read(&body).ok_or(Refused::Unreadable)
    }
}

fn cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find_map(|(key, value)| (key == name).then_some(value))
}
