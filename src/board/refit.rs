//! Another fitting for a running follow-up.
//!
//! Never here: whether it is ready (`review`).
//! Promises: a fitting with a problem changes nothing; one that is not ready begins only by a
//! clinician's decision.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::response::Response;

use super::client::follow_up_in;
use super::deed::Wanted;
use super::enrol::{in_spite_of, problems_in_words};
use super::fields::Fields;
use super::form::{Field, Form, Problems};
use super::refused::Refused;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::config;
use crate::service::refitting;

/// `GET /client/REFERENCE/refit`
pub(super) async fn ask(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
) -> Result<Response, Refused> {
    visitor.reports()?;
    follow_up_in(&room, &reference).await?;
    Ok(form(&visitor, &reference, &Fields::default()).shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/refit`
pub(super) async fn refit(
    State(room): State<Arc<Room>>,
    Path(reference): Path<String>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let follow_up = follow_up_in(&room, &reference).await?;
    let form = form(&visitor, &reference, &fields);
    let mut problems = Problems::default();
    let decided = in_spite_of(&visitor, &fields, &mut problems);
    let office = &room.office;
    let today = office.calendar.date(room.now());
    let text = fields.get("fitting");
    let file = match config::parse_fitting("what you typed", text, Some(&office.clinic), today) {
        Ok(checked) => Some(checked.value),
        Err(found) => {
            problems.add("fitting", problems_in_words(&found));
            None
        }
    };
    let other = file.as_ref().and_then(|file| file.client.as_ref());
    if let Some(other) = other.filter(|other| other.as_str() != reference) {
        problems.add("fitting", format!("this is about client `{other}`, not `{reference}`"));
    }
    let Some(file) = file.filter(|_| problems.is_empty()) else {
        return Ok(form.shown(&visitor, &problems));
    };
    let who = visitor.who.clone();
    let what = format!("{reference}: the fitting of {} is on file", file.fitting.date);
    let wanted = Wanted::by_form(&form, &visitor, &fields, follow_up, what);
    let settled = wanted.settle(&room, move |office, tx, id, now| {
        refitting::refit(office, tx, id, (who.as_str(), &file.fitting, decided.as_ref()), now)
    });
    Ok(settled.await?.answered(form, &visitor))
}

fn form(visitor: &Visitor, reference: &str, typed: &Fields) -> Form {
    let mut fields = vec![Field::area("fitting", "The fitting", 18, typed).hint(
        "Paste the client file, or its part from [fitting] on, as `fadewatch fit` takes it.",
    )];
    if visitor.role.decides() {
        fields.push(
            Field::line("in_spite_of", "Begin although it is not ready, because", typed)
                .hint("Only where it is not ready: a clinician's decision."),
        );
    }
    Form {
        title: format!("Another fitting for {reference}"),
        lead:
            "Sitting time stays as it is. After a change every place is checked again; where the \
               client should begin lower, decide so."
                .to_owned(),
        action: format!("/client/{reference}/refit"),
        fields,
        button: "Put it on file",
        back: format!("/client/{reference}"),
        against: None,
    }
}
