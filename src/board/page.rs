//! The frame that all pages share, and how a page becomes an answer.
//!
//! Never here: what one page shows.
//! Promises: whatever a text holds, it is shown as text.

use askama::Template;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::passes::News;
use super::visitor::Visitor;

/// What the frame of a page needs.
pub(super) struct Frame {
    /// The title of the page, which is its first heading too.
    pub(super) title: String,
    /// The clinic's name; none before signing in.
    pub(super) clinic: Option<String>,
    /// Who is signed in.
    pub(super) visitor: Option<Seen>,
    /// What the last act led to.
    pub(super) news: Option<News>,
    /// Whether the page refreshes by itself.
    pub(super) is_live: bool,
}

/// Who is signed in, as a page shows it.
pub(super) struct Seen {
    pub(super) name: String,
    pub(super) role: &'static str,
    pub(super) reports: bool,
    pub(super) form_key: String,
}

/// A page with one thing to say.
#[derive(Template)]
#[template(path = "notice.html", config = "src/board/pages/askama.toml")]
pub(super) struct Notice<'a> {
    pub(super) frame: Frame,
    pub(super) text: &'a str,
    pub(super) back: &'a str,
}

impl Frame {
    /// The frame of a page for somebody who is not signed in.
    pub(super) fn bare(title: impl Into<String>) -> Self {
        Self { title: title.into(), clinic: None, visitor: None, news: None, is_live: false }
    }

    /// The frame of a page for somebody who is signed in.
    pub(super) fn of(visitor: &Visitor, title: impl Into<String>) -> Self {
        let seen = Seen {
            name: visitor.name.clone(),
            role: visitor.role.name(),
            reports: visitor.role.reports(),
            form_key: visitor.session.form_key.clone(),
        };
        Self {
            clinic: Some(visitor.clinic.clone()),
            visitor: Some(seen),
            news: visitor.take_news(),
            ..Self::bare(title)
        }
    }

    /// The same frame of a page that refreshes by itself.
    pub(super) fn live(self) -> Self {
        Self { is_live: true, ..self }
    }

    /// The key that forms of this page carry.
    pub(super) fn form_key(&self) -> &str {
        self.visitor.as_ref().map_or("", |seen| &seen.form_key)
    }
}

/// A page as an answer.
pub(super) fn page(template: &impl Template) -> Response {
    page_with(StatusCode::OK, template)
}

/// A page as an answer with another status.
pub(super) fn page_with(status: StatusCode, template: &impl Template) -> Response {
    match template.render() {
        Ok(html) => {
            (status, [(header::CONTENT_TYPE, "text/html; charset=utf-8")], html).into_response()
        }
        Err(error) => {
            tracing::error!(%error, "a page could not be written");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}
