//! Which page answers which address.
//!
//! Never here: what a page does.
//! Promises: every answer passes the guard; no form is larger than the largest client file.

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware;
use axum::routing::{get, post};

use super::guard::guard;
use super::refused::Refused;
use super::room::Room;
use super::{
    aside, client, contacts, cover, decide, ended, enrol, live, monitors, pausing, refit, report,
    sign_in, statics, today,
};

/// The largest form: a client file with a fitting has about 4 KB.
const FORM_BYTES_MAX: usize = 128 * 1024;

/// All pages.
pub(super) fn routes(room: &Arc<Room>) -> Router {
    Router::new()
        .route("/", get(today::show))
        .route("/client/{reference}", get(client::show))
        .route("/client/{reference}/decide", get(decide::ask).post(decide::decide))
        .route("/client/{reference}/report", get(report::ask).post(report::take))
        .route("/client/{reference}/pause", get(pausing::ask_pause).post(pausing::pause))
        .route("/client/{reference}/unpause", get(pausing::ask_unpause).post(pausing::unpause))
        .route("/client/{reference}/refit", get(refit::ask).post(refit::refit))
        .route("/client/{reference}/contacts", get(contacts::ask_order).post(contacts::order))
        .route("/client/{reference}/contact", get(contacts::ask_new).post(contacts::add))
        .route("/client/{reference}/contact/{contact}", get(contacts::ask).post(contacts::change))
        .route("/enrol", get(enrol::ask).post(enrol::enrol))
        .route("/cover", get(cover::show))
        .route("/cover/set", get(cover::ask).post(cover::set))
        .route("/aside", get(aside::show))
        .route("/aside/{number}", post(aside::file))
        .route("/ended", get(ended::show))
        .route("/live", get(live::live))
        .route("/health", get(monitors::health))
        .route("/metrics", get(monitors::metrics))
        .route("/sign-in", get(sign_in::ask).post(sign_in::send))
        .route("/enter/{link}", get(sign_in::door))
        .route("/enter", post(sign_in::enter))
        .route("/sign-out", post(sign_in::leave))
        .route("/board.css", get(statics::style))
        .route("/live.js", get(statics::script))
        .route("/sign.svg", get(statics::sign))
        .fallback(async || Refused::NotFound)
        .layer(DefaultBodyLimit::max(FORM_BYTES_MAX))
        .layer(middleware::from_fn_with_state(Arc::clone(room), guard))
        .with_state(Arc::clone(room))
}
