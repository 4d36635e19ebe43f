//! Enrolling a client.
//!
//! Never here: what makes a client file right (`config`), the first entries (`service::enrolling`).
//! Promises: what is typed goes through the same checks as a client file, with the same words, each
//! at the field that it came from; a problem enrols nobody.

use std::sync::Arc;

use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};

use super::fields::Fields;
use super::form::{Field, Form, Problems};
use super::passes::News;
use super::refused::Refused;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::care::fitting::{FreeWords, InSpiteOf};
use crate::config;
use crate::service::{ServiceError, enrolling};
use crate::store::StoreError;

/// Contacts that the form has room for; more are added on the client's page.
const CONTACTS: [(&str, [&str; 3], &str); 3] = [
    ("first", ["name_1", "mail_1", "language_1"], "First contact"),
    ("second", ["name_2", "mail_2", "language_2"], "Second contact"),
    ("third", ["name_3", "mail_3", "language_3"], "Third contact"),
];

/// `GET /enrol`
pub(super) async fn ask(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let zone = room.office.clinic.time_zone.as_str();
    let tomorrow = room.office.calendar.date(room.now()) + chrono::Days::new(1);
    let begun = Fields::of([("time_zone", zone), ("begins", &tomorrow.to_string())]);
    Ok(form(&room, &visitor, &begun).shown(&visitor, &Problems::default()))
}

/// `POST /enrol`
pub(super) async fn enrol(
    State(room): State<Arc<Room>>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let form = form(&room, &visitor, &fields);
    let mut problems = Problems::default();
    let decided = in_spite_of(&visitor, &fields, &mut problems);
    let office = &room.office;
    let today = office.calendar.date(room.now());
    let file = ClientText::of(&fields);
    let client = match config::client_from_text("what you typed", &file.text, &office.clinic, today)
    {
        Ok(checked) => Some(checked.value),
        Err(found) => {
            for problem in found.problems().iter().filter(|problem| problem.is_error()) {
                let field = file.field_of(problem.position().map(|position| position.line));
                problems.add(field, in_words(problem));
            }
            None
        }
    };
    let Some(client) = client.filter(|_| problems.is_empty()) else {
        return Ok(form.shown(&visitor, &problems));
    };
    let who = visitor.who.clone();
    let (reference, begins) = (client.reference.to_string(), client.begins);
    let enrolled = room.perform(move |office, tx, now| {
        let by = (who.as_str(), decided.as_ref());
        enrolling::enroll_in_spite_of(office, tx, &client, by, now)
    });
    match enrolled.await {
        Ok(_) => {
            let what = format!("{reference} is enrolled; the follow-up begins on {begins}");
            visitor.tell(News { what, ..News::default() });
            Ok(Redirect::to(&format!("/client/{reference}")).into_response())
        }
        Err(ServiceError::Refused(why)) => {
            Ok(Form { against: Some(why.to_string()), ..form }.shown(&visitor, &problems))
        }
        Err(ServiceError::Store(StoreError::DuplicateClient { .. })) => {
            problems.add("ref", "another client has this reference");
            Ok(form.shown(&visitor, &problems))
        }
        Err(failed) => Err(failed.into()),
    }
}

/// The languages that people can be written to in, by tag and own name.
pub(super) fn languages() -> impl Iterator<Item = (String, String)> {
    [("en", "English"), ("de", "Deutsch"), ("es", "Español"), ("fr", "Français")]
        .into_iter()
        .map(|(tag, name)| (tag.to_owned(), name.to_owned()))
}

/// A clinician's decision to begin although a fit is not ready.
pub(super) fn in_spite_of(
    visitor: &Visitor,
    fields: &Fields,
    problems: &mut Problems,
) -> Option<InSpiteOf> {
    let reason = fields.get("in_spite_of");
    if reason.is_empty() {
        return None;
    }
    if !visitor.role.decides() {
        problems.add("in_spite_of", "only a clinician decides this");
        return None;
    }
    match FreeWords::new(reason) {
        Ok(reason) => Some(InSpiteOf { by: visitor.who.clone(), reason }),
        Err(error) => {
            problems.add("in_spite_of", error.to_string());
            None
        }
    }
}

/// All errors in one paragraph.
pub(super) fn problems_in_words(found: &config::Problems) -> String {
    let errors = found.problems().iter().filter(|problem| problem.is_error());
    let told = errors.map(|problem| {
        let line = problem.position().map(|position| format!("line {}: ", position.line));
        format!("{}{}", line.unwrap_or_default(), in_words(problem))
    });
    told.collect::<Vec<_>>().join("; ")
}

fn in_words(problem: &config::Problem) -> String {
    let help = problem.help().map(|help| format!(" ({})", help.replace('\n', " ")));
    format!("{}{}", problem.what(), help.unwrap_or_default())
}

/// A client file made of the fields, and which line came from which field.
struct ClientText {
    text: String,
    fields: Vec<&'static str>,
}

impl ClientText {
    fn of(typed: &Fields) -> Self {
        let mut file = Self { text: String::new(), fields: Vec::new() };
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let listed = |text: &str| {
            let times = text.split([',', ' ', ';']).filter(|time| !time.is_empty());
            format!("[{}]", times.map(quoted).collect::<Vec<_>>().join(", "))
        };
        for (key, name) in [
            ("ref", "ref"),
            ("call_name", "call_name"),
            ("risk", "risk"),
            ("time_zone", "time_zone"),
            ("plan", "plan"),
        ] {
            if !typed.get(name).is_empty() {
                file.line(name, &format!("{key} = {}", quoted(typed.get(name))));
            }
        }
        file.line("sittings_at", &format!("sittings_at = {}", listed(typed.get("sittings_at"))));
        file.line("quiet", &format!("quiet = {}", listed(typed.get("quiet"))));
        // A day is written without quotes; whatever else was typed must not become more than that.
        let begins = typed.get("begins");
        let is_day = begins.chars().all(|c| c.is_ascii_digit() || c == '-') && !begins.is_empty();
        let begins = if is_day { begins.to_owned() } else { quoted(begins) };
        file.line("begins", &format!("begins = {begins}"));
        for (id, [name, mail, language], _) in CONTACTS {
            if typed.get(name).is_empty() && typed.get(mail).is_empty() {
                continue;
            }
            file.line(name, "[[contact]]");
            file.line(name, &format!("id = {}", quoted(id)));
            for (key, field) in [("name", name), ("mail", mail), ("language", language)] {
                file.line(field, &format!("{key} = {}", quoted(typed.get(field))));
            }
        }
        for line in typed.get("fitting").lines() {
            file.line("fitting", line);
        }
        file
    }

    fn line(&mut self, field: &'static str, text: &str) {
        self.text.push_str(text);
        self.text.push('\n');
        self.fields.push(field);
    }

    /// The field that a line came from; what is missing altogether is told at the first field.
    fn field_of(&self, line: Option<usize>) -> &'static str {
        let index = line.and_then(|line| line.checked_sub(1));
        index.and_then(|index| self.fields.get(index)).copied().unwrap_or("ref")
    }
}

fn form(room: &Room, visitor: &Visitor, typed: &Fields) -> Form {
    let clinic = &room.office.clinic;
    let plans = config::plan_ids(&clinic.plans_folder);
    let plans = plans.into_iter().map(|id| (id.clone(), id));
    let mut fields = vec![
        Field::line("ref", "Reference", typed)
            .hint("Letters, digits, - _ . : it stands in subjects of mails, so no name."),
        Field::line("call_name", "First name or nickname", typed)
            .hint("For mails to the contacts; may be left out."),
        Field::line("risk", "Risk level", typed)
            .hint("A level of the plan, such as low, moderate, high, very-high."),
        Field::menu("plan", "Plan", plans, typed),
        Field::of_type("date", "begins", "First day", typed),
        Field::line("sittings_at", "Sittings at", typed).hint("Such as 10:00, 14:30."),
        Field::line("quiet", "Quiet hours", typed)
            .hint("From and to, such as 21:00, 07:00; left out, there are none."),
        Field::line("time_zone", "Time zone of the client", typed),
    ];
    for (_, [name, mail, language], label) in CONTACTS {
        fields.push(Field::line(name, &format!("{label}: name"), typed));
        fields.push(Field::of_type("email", mail, &format!("{label}: mail address"), typed));
        fields.push(Field::menu(language, &format!("{label}: language"), languages(), typed));
    }
    let needed = if clinic.fitting_required { "" } else { " May be left out." };
    fields.push(
        Field::area("fitting", "Fitting", 10, typed)
            .hint(format!("Paste the part of the client file from [fitting] on.{needed}")),
    );
    if visitor.role.decides() {
        fields.push(
            Field::line("in_spite_of", "Begin although the fit is not ready, because", typed)
                .hint("Only where it is not ready: a clinician's decision."),
        );
    }
    Form {
        title: "Enrol a client".to_owned(),
        lead: "The contacts are written to from the first day on.".to_owned(),
        action: "/enrol".to_owned(),
        fields,
        button: "Enrol",
        back: "/".to_owned(),
        against: None,
    }
}
