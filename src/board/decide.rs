//! Deciding: taking an alert up, letting sitting begin again, keeping it stopped, ending.
//!
//! Never here: what a decision leads to.
//! Promises: only a clinician by role decides.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::response::Response;

use super::client::follow_up_of;
use super::deed::Wanted;
use super::fields::Fields;
use super::form::{Field, Form, Problems};
use super::places::{chosen_sites, sites_field};
use super::refused::Refused;
use super::room::Room;
use super::visitor::{Sent, Visitor};
use crate::care::{Reading, StepChoice, Verdict};
use crate::overview::standing::Stand;
use crate::service::acts_by_hand;
use crate::store::FollowUpId;

/// What may be decided, by value and words.
const DECISIONS: [(Reading, &str); 4] = [
    (Reading::Seen, "Seen: I take the alert up"),
    (Reading::Resume, "Sitting may begin again"),
    (Reading::KeepStopped, "Keep off the seat (while sitting goes on, this stops it)"),
    (Reading::Close, "End the follow-up"),
];

/// What the form needs to know of the client.
struct About {
    follow_up: FollowUpId,
    /// The steps of the ladder, by number and words.
    steps: Vec<(String, String)>,
}

/// `GET /client/REFERENCE/decide`
pub(super) async fn ask(
    State(room): State<Arc<Room>>,
    visitor: Visitor,
    Path(reference): Path<String>,
) -> Result<Response, Refused> {
    visitor.decides()?;
    let about = about(&room, &reference).await?;
    let form = form(&room, &reference, &about, &Fields::default());
    Ok(form.shown(&visitor, &Problems::default()))
}

/// `POST /client/REFERENCE/decide`
pub(super) async fn decide(
    State(room): State<Arc<Room>>,
    Path(reference): Path<String>,
    Sent { visitor, fields }: Sent,
) -> Result<Response, Refused> {
    visitor.decides()?;
    let about = about(&room, &reference).await?;
    let form = form(&room, &reference, &about, &fields);
    let (verdict, problems) = verdict(&fields);
    let Some(verdict) = verdict.filter(|_| problems.is_empty()) else {
        return Ok(form.shown(&visitor, &problems));
    };
    let who = visitor.who.clone();
    let what = format!("{reference}: {} decides: {}", visitor.name, verdict.reading);
    let wanted = Wanted::by_form(&form, &visitor, &fields, about.follow_up, what);
    let settled = wanted.settle(&room, move |office, tx, id, now| {
        acts_by_hand::decide(office, tx, id, (&who, verdict.clone()), now)
    });
    Ok(settled.await?.answered(form, &visitor))
}

async fn about(room: &Arc<Room>, reference: &str) -> Result<About, Refused> {
    let (reference, now) = (reference.to_owned(), room.now());
    room.read(move |office, view| {
        let follow_up = follow_up_of(view, &reference)?;
        let stand = Stand::load(office, view, follow_up, now)?;
        Ok(About { follow_up, steps: steps(&stand) })
    })
    .await
}

/// The steps of a ladder as choices of a menu.
pub(super) fn steps(stand: &Stand) -> Vec<(String, String)> {
    let steps = stand.ladder().map_or(&[][..], |ladder| &ladder.steps);
    let step = |(index, step): (usize, &crate::care::Step)| {
        let number = index + 1;
        (number.to_string(), format!("step {number}: {}", step.sit))
    };
    steps.iter().enumerate().map(step).collect()
}

fn form(room: &Room, reference: &str, about: &About, typed: &Fields) -> Form {
    let decisions = DECISIONS.map(|(reading, words)| (reading.name().to_owned(), words.to_owned()));
    let as_planned = (String::new(), "as the plan has it".to_owned());
    let steps = std::iter::once(as_planned).chain(about.steps.iter().cloned());
    Form {
        title: format!("Decide about {reference}"),
        lead: "What would follow is shown before anything happens by which sitting goes on."
            .to_owned(),
        action: format!("/client/{reference}/decide"),
        fields: vec![
            Field::one("decision", "Decision", decisions, typed),
            Field::menu("step", "Begin again at", steps, typed)
                .hint("Only where sitting may begin again."),
            sites_field(room, "Places it is about", typed)
                .hint("Only where sitting stays or is stopped."),
        ],
        button: "Go on",
        back: format!("/client/{reference}"),
        against: None,
    }
}

fn verdict(fields: &Fields) -> (Option<Verdict>, Problems) {
    let mut problems = Problems::default();
    let decision = fields.get("decision");
    let found = DECISIONS.iter().find(|(reading, _)| reading.name() == decision);
    let Some((reading, _)) = found else {
        problems.add("decision", "choose one");
        return (None, problems);
    };
    let step = match fields.get("step") {
        "" => None,
        _ if *reading != Reading::Resume => {
            problems.add("step", "this belongs to `Sitting may begin again` only");
            None
        }
        text => match text.parse() {
            Ok(step) => Some(StepChoice::Step(step)),
            Err(_) => {
                problems.add("step", "choose a step of the ladder");
                None
            }
        },
    };
    let sites = chosen_sites(fields, &mut problems);
    if !sites.is_empty() && *reading != Reading::KeepStopped {
        problems.add("site", "this belongs to `Keep off the seat` only");
    }
    (Some(Verdict { sites, step, ..Verdict::bare(*reading) }), problems)
}
