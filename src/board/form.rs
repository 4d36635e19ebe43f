//! A form as a page: its fields, what was typed, what is wrong with it.
//!
//! Never here: what a form is for.
//! Promises: what was typed is kept; each problem stands at its field and in a list above, with a
//! link to it.

use askama::Template;
use axum::http::StatusCode;
use axum::response::Response;

use super::fields::Fields;
use super::page::{Frame, page_with};
use super::visitor::Visitor;

/// A form.
pub(super) struct Form {
    pub(super) title: String,
    pub(super) lead: String,
    /// Where it is sent.
    pub(super) action: String,
    pub(super) fields: Vec<Field>,
    pub(super) button: &'static str,
    /// Where somebody goes who does not want it after all.
    pub(super) back: String,
    /// What stands against all of it.
    pub(super) against: Option<String>,
}

/// A field.
pub(super) struct Field {
    pub(super) name: &'static str,
    pub(super) label: String,
    pub(super) hint: String,
    pub(super) error: Option<String>,
    pub(super) kind: Kind,
}

/// What a field looks like.
pub(super) enum Kind {
    /// A line, with its type for the browser.
    Line(&'static str, String),
    /// Several lines.
    Area(u32, String),
    /// One of these.
    One(Vec<Choice>),
    /// Any of these.
    Many(Vec<Choice>),
    /// One of these, in a menu.
    Menu(Vec<Choice>),
}

/// A choice.
pub(super) struct Choice {
    pub(super) value: String,
    pub(super) label: String,
    pub(super) is_chosen: bool,
}

#[derive(Template)]
#[template(path = "form.html", config = "src/board/pages/askama.toml")]
struct FormPage<'f> {
    frame: Frame,
    form: &'f Form,
}

impl Field {
    fn new(name: &'static str, label: impl Into<String>, kind: Kind) -> Self {
        Self { name, label: label.into(), hint: String::new(), error: None, kind }
    }

    /// A line of text.
    pub(super) fn line(name: &'static str, label: &str, typed: &Fields) -> Self {
        Self::new(name, label, Kind::Line("text", typed.get(name).to_owned()))
    }

    /// A line that browsers help with: `date`, `time`, `number`, `email`.
    pub(super) fn of_type(
        kind: &'static str,
        name: &'static str,
        label: &str,
        typed: &Fields,
    ) -> Self {
        Self::new(name, label, Kind::Line(kind, typed.get(name).to_owned()))
    }

    /// Several lines of text.
    pub(super) fn area(name: &'static str, label: &str, rows: u32, typed: &Fields) -> Self {
        Self::new(name, label, Kind::Area(rows, typed.get(name).to_owned()))
    }

    /// One of several, by value and label.
    pub(super) fn one(
        name: &'static str,
        label: &str,
        choices: impl IntoIterator<Item = (String, String)>,
        typed: &Fields,
    ) -> Self {
        Self::new(name, label, Kind::One(chosen(name, choices, typed)))
    }

    /// Any of several.
    pub(super) fn many(
        name: &'static str,
        label: &str,
        choices: impl IntoIterator<Item = (String, String)>,
        typed: &Fields,
    ) -> Self {
        Self::new(name, label, Kind::Many(chosen(name, choices, typed)))
    }

    /// One of several, in a menu.
    pub(super) fn menu(
        name: &'static str,
        label: &str,
        choices: impl IntoIterator<Item = (String, String)>,
        typed: &Fields,
    ) -> Self {
        Self::new(name, label, Kind::Menu(chosen(name, choices, typed)))
    }

    pub(super) fn hint(self, hint: impl Into<String>) -> Self {
        Self { hint: hint.into(), ..self }
    }

    /// With what is wrong with it, where `problems` has something.
    pub(super) fn checked(self, problems: &Problems) -> Self {
        let error = problems.of(self.name).map(str::to_owned);
        Self { error, ..self }
    }
}

fn chosen(
    name: &str,
    choices: impl IntoIterator<Item = (String, String)>,
    typed: &Fields,
) -> Vec<Choice> {
    let choice = |(value, label): (String, String)| Choice {
        is_chosen: typed.all(name).any(|typed| typed == value),
        value,
        label,
    };
    choices.into_iter().map(choice).collect()
}

/// What is wrong with what was typed, by field.
#[derive(Default)]
pub(super) struct Problems {
    found: Vec<(&'static str, String)>,
}

impl Problems {
    pub(super) fn add(&mut self, field: &'static str, what: impl Into<String>) {
        self.found.push((field, what.into()));
    }

    pub(super) fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    fn of(&self, field: &str) -> Option<&str> {
        self.found.iter().find(|(name, _)| *name == field).map(|(_, what)| what.as_str())
    }
}

impl Form {
    /// The form as an answer.
    pub(super) fn shown(mut self, visitor: &Visitor, problems: &Problems) -> Response {
        self.fields = self.fields.into_iter().map(|field| field.checked(problems)).collect();
        let is_wrong = !problems.is_empty() || self.against.is_some();
        let status = if is_wrong { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
        let frame = Frame::of(visitor, self.title.clone());
        page_with(status, &FormPage { frame, form: &self })
    }

    fn has_errors(&self) -> bool {
        self.against.is_some() || self.fields.iter().any(|field| field.error.is_some())
    }
}
