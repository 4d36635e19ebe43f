//! What an act led to, told to the person who did it.
//!
//! Never here: the act.
//! Promises: something that was set aside is never shown as done, and shows in the exit code.

use serde::Serialize;
use serde_json::Value;

use super::exit::Exit;
use super::moments::moment;
use super::paper;
use super::setting::{CommandError, now};
use super::standing::{Stand, StandJson};
use super::table::{Cell, Table};
use super::telling::{keeps_the_books, told};
use crate::care::ClientRef;
use crate::follow_up::event::AsideReason;
use crate::follow_up::{Event, Instant};
use crate::rehearsal::phrases::aside_reason;
use crate::service::due::LATE_MAX;
use crate::service::{Acted, Office, covering};
use crate::store::{RememberedInstant, Store, StoreError};

/// The outcome as programs read it.
#[derive(Serialize)]
struct OutcomeJson {
    done: bool,
    set_aside: Option<AsideReason>,
    entries: Vec<Value>,
    now: StandJson,
}

/// Tells what an act led to. `what` says the act itself, in one sentence.
pub(super) fn tell(
    office: &Office,
    store: &Store,
    (client, acted): (ClientRef, Acted),
    what: &str,
    json: bool,
) -> Result<Exit, CommandError> {
    let set_aside = acted.entries.iter().find_map(|entry| match &entry.event {
        Event::SetAside { why, .. } => Some(*why),
        _ => None,
    });
    let (plan, cover) = store.read_blocking(|view| -> Result<_, StoreError> {
        let cover = covering::cover(office, view, &acted.state, now())?;
        Ok((office.plan(view, &acted.state.terms.plan)?, cover))
    })?;
    let stand = Stand::of(client, std::sync::Arc::unwrap_or_clone(acted.state), plan, cover);
    if json {
        let entry = |entry| serde_json::to_value(entry).expect("OK because an entry always prints");
        paper::print_json(&OutcomeJson {
            done: set_aside.is_none(),
            set_aside,
            entries: acted.entries.iter().map(entry).collect(),
            now: stand.json(),
        })?;
    } else {
        let zone = &stand.state.terms.zone;
        let mut table = Table::new(&["time", "rule", "what followed"]).indented(2);
        for entry in acted.entries.iter().filter(|entry| !keeps_the_books(&entry.event)) {
            table.row(vec![
                moment(zone, entry.at).into(),
                Cell::from(entry.event.rule()),
                told(&entry.event, zone).into(),
            ]);
        }
        let followed = if table.is_empty() {
            "  nothing followed from it\n".to_owned()
        } else {
            table.rendered(paper::colour())
        };
        let (client, now) = (&stand.client, stand.in_a_line());
        paper::print(&format!("{client}: {what}\n{followed}{now}\n"))?;
    }
    if let Some(why) = set_aside {
        eprintln!("fadewatch: set aside, it changed nothing: {}", aside_reason(why));
        return Ok(Exit::Refused);
    }
    Ok(Exit::Done)
}

/// Says so where no service seems to run: mail waits then.
pub(super) fn warn_if_away(store: &Store, now: Instant) -> Result<(), CommandError> {
    let last_alive = store.read_blocking(|view| -> Result<_, StoreError> {
        view.remembered(RememberedInstant::LastAlive)
    })?;
    if last_alive.is_none_or(|alive| now - alive > LATE_MAX) {
        paper::warn("the service does not seem to run; mail waits until `fadewatch serve` does");
    }
    Ok(())
}
