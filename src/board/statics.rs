//! What pages load: one style sheet, one small script, one sign. All of it is in the program.
//!
//! Never here: anything of a client.
//! Promises: nothing comes from anywhere else.

use axum::http::header;
use axum::response::{IntoResponse, Response};

/// Browsers may keep these for a while: they change with the program only.
const KEEP: &str = "max-age=600";

/// `GET /board.css`
pub(super) async fn style() -> Response {
    as_file("text/css; charset=utf-8", include_str!("pages/board.css"))
}

/// `GET /live.js`
pub(super) async fn script() -> Response {
    as_file("text/javascript; charset=utf-8", include_str!("pages/live.js"))
}

/// `GET /sign.svg`
pub(super) async fn sign() -> Response {
    as_file("image/svg+xml", include_str!("pages/sign.svg"))
}

fn as_file(kind: &'static str, text: &'static str) -> Response {
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, KEEP)], text).into_response()
}
