//! What machines that watch this one ask: whether the service does its work.
//!
//! Never here: what is checked (`overview::health`).
//! Promises: only this machine itself is answered, without signing in; whatever a proxy passed on is
//! not; nothing personal is in an answer.

use std::sync::Arc;

use axum::extract::{ConnectInfo, FromRequestParts, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::guard::Peer;
use super::refused::Refused;
use super::room::Room;
use crate::overview::health::{Health, checks};

/// The headers by which proxies tell that they pass on what somebody else asks.
const PASSED_ON: [&str; 8] = [
    "forwarded",
    "via",
    "x-forwarded-for",
    "x-forwarded-host",
    "x-forwarded-port",
    "x-forwarded-proto",
    "x-forwarded-server",
    "x-real-ip",
];

/// The text format of Prometheus.
const PROMETHEUS: &str = "text/plain; version=0.0.4; charset=utf-8";

/// Somebody on this machine itself.
pub(super) struct Neighbour;

impl FromRequestParts<Arc<Room>> for Neighbour {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, room: &Arc<Room>) -> Result<Self, Refused> {
        // Who is really at the other end: `Peer` as a page takes it believes a proxy.
        let peer = parts.extensions.get::<ConnectInfo<Peer>>();
        let is_here = peer.is_some_and(|ConnectInfo(Peer(ip))| ip.to_canonical().is_loopback());
        if is_here && !is_passed_on(room, &parts.headers) {
            Ok(Self)
        } else {
            Err(Refused::NotFound)
        }
    }
}

/// Whether a proxy asks for somebody else. Behind one, whoever asks by the board's public name came
/// through it, even where the proxy does not say so.
fn is_passed_on(room: &Room, headers: &HeaderMap) -> bool {
    let listen = room.settings.listen.to_string();
    let asks_here =
        headers.get(header::HOST).is_some_and(|host| host.as_bytes() == listen.as_bytes());
    PASSED_ON.iter().any(|name| headers.contains_key(*name))
        || (room.settings.behind_proxy && !asks_here)
}

/// `GET /health`
pub(super) async fn health(
    State(room): State<Arc<Room>>,
    _: Neighbour,
) -> Result<Response, Refused> {
    let health = look(&room).await?;
    let status = if health.well { StatusCode::OK } else { StatusCode::SERVICE_UNAVAILABLE };
    let text = serde_json::to_string(&health).expect("OK because all keys are names of fields");
    Ok((status, [(header::CONTENT_TYPE, "application/json")], text).into_response())
}

/// `GET /metrics`
pub(super) async fn metrics(
    State(room): State<Arc<Room>>,
    _: Neighbour,
) -> Result<Response, Refused> {
    let text = look(&room).await?.metrics();
    Ok(([(header::CONTENT_TYPE, PROMETHEUS)], text).into_response())
}

async fn look(room: &Arc<Room>) -> Result<Health, Refused> {
    let now = room.now();
    let looked = match room.read(move |office, view| Ok(checks(view, &office.clinic, now)?)).await {
        Ok(checks) => Ok(checks),
        Err(Refused::Failed(error)) => Err(error),
        Err(refused) => return Err(refused),
    };
    Ok(Health::of(&room.office.clinic, looked, now))
}
