//! Why a page is not shown, or an act not done.
//!
//! Never here: what is wrong with one field of a form (the form shows that).
//! Promises: each says what to do; no detail of ours is shown, no personal data is logged.

use std::time::Duration;

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};

use super::page::{Frame, Notice, page_with};
use crate::service::ServiceError;
use crate::store::StoreError;

/// Why.
#[derive(Debug)]
pub(super) enum Refused {
    /// Nobody is signed in; a page leads to signing in.
    SignedOut,
    /// Nobody is signed in any more, and a form was sent.
    SignedOutForm,
    /// The role does not allow it; what role does.
    Role(&'static str),
    /// There is no such page or client.
    NotFound,
    /// The request did not come from a page of this board.
    NotOurs,
    /// The form cannot be read.
    Unreadable,
    /// Too often; after how long again.
    TooMany(Duration),
    /// Too many pages at once.
    Busy,
    /// The service refused.
    Failed(ServiceError),
}

impl From<StoreError> for Refused {
    fn from(error: StoreError) -> Self {
        Self::Failed(error.into())
    }
}

impl From<ServiceError> for Refused {
    fn from(error: ServiceError) -> Self {
        Self::Failed(error)
    }
}

impl Refused {
    fn told(&self) -> (StatusCode, &'static str, String) {
        match self {
            Self::SignedOut | Self::SignedOutForm => (
                StatusCode::UNAUTHORIZED,
                "You are signed out",
                "Nothing was changed. Sign in again; what you typed is still there when you go \
                 back in your browser."
                    .to_owned(),
            ),
            Self::Role(needed) => (
                StatusCode::FORBIDDEN,
                "Not with your role",
                format!("Nothing was changed. {needed} may do this."),
            ),
            Self::NotFound => (
                StatusCode::NOT_FOUND,
                "There is no such page",
                "The client may have another reference, or the page another address.".to_owned(),
            ),
            Self::NotOurs => (
                StatusCode::FORBIDDEN,
                "This did not come from the board",
                "Nothing was changed. Open the page again and send the form from there.".to_owned(),
            ),
            Self::Unreadable => (
                StatusCode::BAD_REQUEST,
                "This form cannot be read",
                "Nothing was changed. Go back and send it again.".to_owned(),
            ),
            Self::TooMany(wait) => (
                StatusCode::TOO_MANY_REQUESTS,
                "Too many tries",
                format!("Try again in {} min.", wait.as_secs().div_ceil(60)),
            ),
            Self::Busy => (
                StatusCode::SERVICE_UNAVAILABLE,
                "The board is busy",
                "The follow-up itself goes on. Try again in a moment.".to_owned(),
            ),
            Self::Failed(_) => (
                StatusCode::INTERNAL_SERVER_ERROR,
                "That did not work",
                "Nothing was changed. The log of the service says why; `fadewatch health` says \
                 whether it runs."
                    .to_owned(),
            ),
        }
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        if matches!(self, Self::SignedOut) {
            return Redirect::to("/sign-in").into_response();
        }
        if let Self::Failed(error) = &self {
            tracing::warn!(%error, "a page of the board could not be shown");
        }
        let (status, title, text) = self.told();
        let mut response =
            page_with(status, &Notice { frame: Frame::bare(title), text: &text, back: "/" });
        if let Self::TooMany(wait) = self
            && let Ok(seconds) = HeaderValue::from_str(&wait.as_secs().max(1).to_string())
        {
            response.headers_mut().insert(header::RETRY_AFTER, seconds);
        }
        response
    }
}
