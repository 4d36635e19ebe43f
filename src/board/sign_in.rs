//! Signing in: asking for a link by mail, entering by it, leaving.
//!
//! Never here: how long links and sessions last (`passes`).
//! Promises: whoever asks gets the same answer, and as fast, whether their address is on file or
//! not; opening a link uses nothing up, since mail programs open links by themselves: only its
//! button does; a link is never written into the data.

use std::sync::Arc;
use std::time::{Duration, Instant};

use askama::Template;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};

use super::fields::Fields;
use super::guard::Peer;
use super::page::{Frame, page, page_with};
use super::passes::LINK_LIVES;
use super::refused::Refused;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::care::{ClinicianId, Minutes};
use crate::notice::Desk;
use crate::post::{Address, Outcome};
use crate::service::mailing;
use crate::store::Person;

/// How often a link is handed to a mail server that does not take it, and how long in between.
const SEND_TRIES: u32 = 5;
/// See `SEND_TRIES`.
const BETWEEN_TRIES: Duration = Duration::from_secs(20);

#[derive(Template)]
#[template(path = "sign-in.html", config = "src/board/pages/askama.toml")]
struct SignIn {
    frame: Frame,
    /// What was typed.
    mail: String,
    error: Option<&'static str>,
}

#[derive(Template)]
#[template(path = "link-sent.html", config = "src/board/pages/askama.toml")]
struct LinkSent {
    frame: Frame,
    minutes: u64,
}

#[derive(Template)]
#[template(path = "enter.html", config = "src/board/pages/askama.toml")]
struct Enter {
    frame: Frame,
    link: String,
    is_good: bool,
}

/// `GET /sign-in`
pub(super) async fn ask(State(room): State<Arc<Room>>, headers: HeaderMap) -> Response {
    if Visitor::of(&room, &headers).is_some() {
        return Redirect::to("/").into_response();
    }
    page(&SignIn { frame: Frame::bare("Sign in"), mail: String::new(), error: None })
}

/// `POST /sign-in`
pub(super) async fn send(
    State(room): State<Arc<Room>>,
    peer: Peer,
    fields: Fields,
) -> Result<Response, Refused> {
    room.knock(&peer.0.to_string())?;
    let typed = fields.get("mail");
    let Ok(address) = Address::parse(typed) else {
        let again = SignIn {
            frame: Frame::bare("Sign in"),
            mail: typed.to_owned(),
            error: Some("This is not a mail address: something like name@clinic.example"),
        };
        return Ok(page_with(StatusCode::UNPROCESSABLE_ENTITY, &again));
    };
    let asked_by = address.as_str().to_ascii_lowercase();
    room.asked_for.try_by(&asked_by, Instant::now()).map_err(Refused::TooMany)?;
    let whose = room.office.clinic.clinicians.iter().find(|person| {
        Address::parse(person.mail.as_str()).is_ok_and(|on_file| on_file.is_same(&address))
    });
    // Beside the answer, so that it is as fast for an address that nobody has.
    if let Some(person) = whose {
        let (who, to) = (
            person.id.clone(),
            Person {
                name: person.name.as_str().to_owned(),
                mail: person.mail.as_str().to_owned(),
                language: person.language.as_str().to_owned(),
            },
        );
        tokio::spawn(async move { mail_link(&room, &who, &to).await });
    }
    let minutes = LINK_LIVES.as_secs() / 60;
    Ok(page(&LinkSent { frame: Frame::bare("Look into your mail"), minutes }))
}

/// Mails a link, past the outbox: it would be kept there, and be backed up.
async fn mail_link(room: &Room, who: &ClinicianId, to: &Person) {
    let link = match room.link_for(who) {
        Ok(link) => link,
        Err(error) => return tracing::error!(%error, "no link can be made"),
    };
    let (office, now) = (&room.office, room.now());
    let desk =
        Desk { languages: &office.languages, language: &to.language, zone: &office.calendar, now };
    let minutes = Minutes::new(u32::try_from(LINK_LIVES.as_secs() / 60).unwrap_or(u32::MAX));
    let draft = desk.sign_in(&office.clinic.name, &link, minutes);
    let raw = match mailing::without_outbox(office, to, &draft, now) {
        Ok(raw) => raw,
        Err(error) => return tracing::error!(%error, "a sign-in link could not be composed"),
    };
    let Ok(recipient) = Address::parse(&to.mail) else { return };
    for _ in 0..SEND_TRIES {
        match room.outlet.send(&office.from.address, &recipient, &raw).await {
            Outcome::Accepted { .. } => return tracing::info!(%who, "a sign-in link went out"),
            outcome => tracing::warn!(%who, ?outcome, "a sign-in link did not go out"),
        }
        tokio::time::sleep(BETWEEN_TRIES).await;
    }
}

impl Room {
    /// A link that signs somebody in.
    ///
    /// # Errors
    /// When the machine gives no random bits.
    pub(super) fn link_for(&self, who: &ClinicianId) -> Result<String, getrandom::Error> {
        let secret = self.passes.link(who, Instant::now())?;
        Ok(format!("{}/enter/{}", self.settings.address, secret.as_str()))
    }
}

/// `GET /enter/LINK`: a page with a button, which uses nothing up.
pub(super) async fn door(
    State(room): State<Arc<Room>>,
    peer: Peer,
    Path(link): Path<String>,
) -> Result<Response, Refused> {
    room.knock(&peer.0.to_string())?;
    let is_good = room.passes.is_good(&link, Instant::now());
    let title = if is_good { "Sign in" } else { "This link does not work any more" };
    Ok(page(&Enter { frame: Frame::bare(title), link, is_good }))
}

/// `POST /enter`
pub(super) async fn enter(
    State(room): State<Arc<Room>>,
    peer: Peer,
    fields: Fields,
) -> Result<Response, Refused> {
    room.knock(&peer.0.to_string())?;
    let entered = room.passes.enter(fields.get("link"), Instant::now());
    let entered = entered.map_err(|error| {
        tracing::error!(%error, "no session can be made");
        Refused::Busy
    })?;
    let Some((who, secret)) = entered else {
        let title = "This link does not work any more";
        let spent = Enter { frame: Frame::bare(title), link: String::new(), is_good: false };
        return Ok(page_with(StatusCode::GONE, &spent));
    };
    tracing::info!(%who, "signed in on the board");
    Ok(with_cookie(&room, secret.as_str(), ""))
}

/// `POST /sign-out`
pub(super) async fn leave(
    State(room): State<Arc<Room>>,
    Sent { visitor, .. }: Sent,
) -> Result<Response, Refused> {
    room.passes.leave(&visitor.session, Instant::now());
    tracing::info!(who = %visitor.who, "signed out of the board");
    Ok(with_cookie(&room, "", "; Max-Age=0"))
}

fn with_cookie(room: &Room, value: &str, more: &str) -> Response {
    let secure = if room.settings.address.is_https() { "; Secure" } else { "" };
    let cookie =
        format!("{}={value}; Path=/; HttpOnly; SameSite=Strict{secure}{more}", room.cookie_name());
    let mut response = Redirect::to("/").into_response();
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        response.headers_mut().insert(header::SET_COOKIE, cookie);
    }
    response
}
