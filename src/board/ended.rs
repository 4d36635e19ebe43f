//! Follow-ups that have ended.
//!
//! Never here: erasing what is known of them (`fadewatch forget`).
//! Promises: the record of each can still be read.

use std::sync::Arc;

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::page::{Frame, page};
use super::refused::Refused;
use super::room::Room;
use super::visitor::Visitor;
use crate::overview;
use crate::store::ListedStanding;

#[derive(Template)]
#[template(path = "ended.html", config = "src/board/pages/askama.toml")]
struct Ended {
    frame: Frame,
    /// References, with the call names that are still on file.
    clients: Vec<(String, String)>,
}

/// `GET /ended`
pub(super) async fn show(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Result<Response, Refused> {
    let frame = Frame::of(&visitor, "Follow-ups that have ended");
    let shown = room
        .read(move |_, view| {
            let mut clients = Vec::new();
            for listed in overview::all(view)? {
                if listed.standing == ListedStanding::Closed {
                    let name = view.call_name(listed.follow_up)?.unwrap_or_default();
                    clients.push((listed.client.to_string(), name));
                }
            }
            Ok(Ended { frame, clients })
        })
        .await?;
    Ok(page(&shown))
}
