//! Pausing a follow-up, and ending a pause.
//!
//! Never here: what a pause does.
//! Promises: whoever may report may pause; only a clinician ends a pause.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::response::Response;

use super::client::follow_up_of;
use super::decide::steps;
use super::deed::Wanted;
use super::fields::Fields;
use super::form::{Field, Form, Problems};
use super::refused::Refused;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::follow_up::{PauseReason, StepNumber};
use crate::overview::standing::Stand;
use crate::service::acts_by_hand;
use crate::store::FollowUpId;

const WHY: [(&str, &str, PauseReason); 3] = [
    ("hospital", "The client is in hospital", PauseReason::Hospital),
    ("holiday", "A holiday", PauseReason::Holiday),
    ("other", "Something else", PauseReason::Other),
];

/// `GET /client/REFERENCE/pause`
pub(super) async fn ask_pause(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
) -> Result<Response, Refused> {
    visitor.reports()?;
    about(&room, &reference).await?;
    Ok(pause_form(&reference, &Fields::default()).shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/pause`
pub(super) async fn pause(
    State(room): State<Arc<Room>>,
    Path(reference): Path<String>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.reports()?;
    let (follow_up, _) = about(&room, &reference).await?;
    let form = pause_form(&reference, &fields);
    let mut problems = Problems::default();
    let Some((_, _, why)) = WHY.iter().find(|(value, ..)| *value == fields.get("why")) else {
        problems.add("why", "choose one");
        return Ok(form.shown(&visitor, &problems));
    };
    let (who, why) = (visitor.who.clone(), *why);
    let what = format!("{reference} is paused");
    let wanted = Wanted::by_form(&form, &visitor, &fields, follow_up, what);
    let settled = wanted.settle(&room, move |office, tx, id, now| {
        acts_by_hand::pause(office, tx, id, (&who, why), now)
    });
    Ok(settled.await?.answered(form, &visitor))
}

/// `GET /client/REFERENCE/unpause`
pub(super) async fn ask_unpause(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
) -> Result<Response, Refused> {
    visitor.decides()?;
    let (_, steps) = about(&room, &reference).await?;
    let form = unpause_form(&reference, steps, &Fields::default());
    Ok(form.shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/unpause`
pub(super) async fn unpause(
    State(room): State<Arc<Room>>,
    Path(reference): Path<String>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.decides()?;
    let (follow_up, steps) = about(&room, &reference).await?;
    let form = unpause_form(&reference, steps, &fields);
    let mut problems = Problems::default();
    let step = match fields.get("step") {
        "" => None,
        text => match text.parse() {
            Ok(step) => Some(StepNumber::new(step)),
            Err(_) => {
                problems.add("step", "choose a step of the ladder");
                return Ok(form.shown(&visitor, &problems));
            }
        },
    };
    let who = visitor.who.clone();
    let what = format!("{reference}: the pause is ended");
    let wanted = Wanted::by_form(&form, &visitor, &fields, follow_up, what);
    let settled = wanted.settle(&room, move |office, tx, id, now| {
        acts_by_hand::unpause(office, tx, id, (&who, step), now)
    });
    Ok(settled.await?.answered(form, &visitor))
}

async fn about(
    room: &Arc<Room>,
    reference: &str,
) -> Result<(FollowUpId, Vec<(String, String)>), Refused> {
    let (reference, now) = (reference.to_owned(), room.now());
    room.read(move |office, view| {
        let follow_up = follow_up_of(view, &reference)?;
        Ok((follow_up, steps(&Stand::load(office, view, follow_up, now)?)))
    })
    .await
}

fn pause_form(reference: &str, typed: &Fields) -> Form {
    let why = WHY.map(|(value, words, _)| (value.to_owned(), words.to_owned()));
    Form {
        title: format!("Pause {reference}"),
        lead: "The contacts are told. A mark that somebody reports is taken all the same. A stop, \
               and a mark that is not settled, cannot be paused away."
            .to_owned(),
        action: format!("/client/{reference}/pause"),
        fields: vec![Field::one("why", "Why", why, typed)],
        button: "Pause",
        back: format!("/client/{reference}"),
        against: None,
    }
}

fn unpause_form(reference: &str, steps: Vec<(String, String)>, typed: &Fields) -> Form {
    let before = (String::new(), "where the client was".to_owned());
    Form {
        title: format!("End the pause of {reference}"),
        lead: "After a long pause the step of before may be too much. The run starts again."
            .to_owned(),
        action: format!("/client/{reference}/unpause"),
        fields: vec![Field::menu("step", "Go on at", std::iter::once(before).chain(steps), typed)],
        button: "Go on",
        back: format!("/client/{reference}"),
        against: None,
    }
}
