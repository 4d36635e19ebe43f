//! What holds for every request and every answer: the host, where a form came from, the time that
//! an answer may take, the headers.
//!
//! Never here: who is signed in.
//! Promises: a request for another host is turned away (so that no foreign page can reach a board
//! on loopback by a name of its own), and so is a form from any other page; every answer tells the
//! browser to run and keep nothing but what is ours.

use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::{ConnectInfo, FromRequestParts, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::refused::Refused;
use super::room::Room;

/// How long an answer may take, with all that the browser has to send for it.
const ANSWER_WITHIN: Duration = Duration::from_secs(20);

/// What a page may load and do: nothing that is not ours.
const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self' data:; script-src \
     'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// The headers of every answer.
const HEADERS: [(HeaderName, &str); 8] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::X_FRAME_OPTIONS, "DENY"),
    (header::REFERRER_POLICY, "no-referrer"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (
        HeaderName::from_static("permissions-policy"),
        "camera=(), microphone=(), geolocation=(), payment=()",
    ),
    (HeaderName::from_static("x-robots-tag"), "noindex"),
];

/// A year: from the first visit on, browsers use HTTPS only.
const HTTPS_ONLY: &str = "max-age=31536000";

/// Who is at the other end of a connection.
#[derive(Clone, Copy, Debug)]
pub(super) struct Peer(pub(super) IpAddr);

impl FromRequestParts<Arc<Room>> for Peer {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, room: &Arc<Room>) -> Result<Self, Refused> {
        let ConnectInfo(peer) = ConnectInfo::<Self>::from_request_parts(parts, room)
            .await
            .map_err(|_| Refused::Unreadable)?;
        if !room.settings.behind_proxy {
            return Ok(peer);
        }
        // The proxy adds whom it saw at the end; what stands before it anybody may have written.
        let forwarded = parts.headers.get_all("x-forwarded-for").iter().next_back();
        let seen = forwarded
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.rsplit(',').next())
            .and_then(|last| last.trim().parse().ok());
        Ok(seen.map_or(peer, Self))
    }
}

/// Goes before every page and after it.
pub(super) async fn guard(State(room): State<Arc<Room>>, request: Request, next: Next) -> Response {
    let mut response = if !is_for_us(&room, request.headers()) {
        StatusCode::MISDIRECTED_REQUEST.into_response()
    } else if changes(request.method()) && !is_from_us(&room, request.headers()) {
        Refused::NotOurs.into_response()
    } else {
        match tokio::time::timeout(ANSWER_WITHIN, next.run(request)).await {
            Ok(response) => response,
            Err(_) => Refused::Busy.into_response(),
        }
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    if room.settings.address.is_https() {
        headers.insert(header::STRICT_TRANSPORT_SECURITY, HeaderValue::from_static(HTTPS_ONLY));
    }
    response
}

fn changes(method: &Method) -> bool {
    !matches!(*method, Method::GET | Method::HEAD)
}

/// Whether the browser means this board: by the name in its settings, or where it listens.
fn is_for_us(room: &Room, headers: &HeaderMap) -> bool {
    let Some(host) = headers.get(header::HOST).and_then(|host| host.to_str().ok()) else {
        return false;
    };
    host.eq_ignore_ascii_case(room.settings.address.host())
        || (room.settings.behind_proxy && host == room.settings.listen.to_string())
}

/// Whether a form comes from a page of this board, by what the browser itself says about it.
fn is_from_us(room: &Room, headers: &HeaderMap) -> bool {
    if let Some(site) = headers.get("sec-fetch-site") {
        return site == "same-origin";
    }
    let origin = headers.get(header::ORIGIN).and_then(|origin| origin.to_str().ok());
    origin.is_some_and(|origin| origin.eq_ignore_ascii_case(&room.settings.address.to_string()))
}
