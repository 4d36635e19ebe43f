//! Promise 5: a stop is lifted by a clinician only.
//!
//! Never here: who the service thinks may decide.
//! Promises: each decision in the journal is held against who wrote the mail behind it, and what
//! that person meant.

use super::super::ledger::{Step, Writer};
use super::super::trial::{Broken, Promise};
use super::super::world::World;
use crate::care::Reading;
use crate::follow_up::Event;
use crate::store::{JournalLine, RequestTarget};

impl World<'_> {
    /// An entry that decides, or that must not happen while stopped.
    pub(super) fn check_decision(
        &self,
        client: usize,
        line: &JournalLine,
        step: &Step,
    ) -> Result<(), Broken> {
        let facts = &self.ledger.clients[client];
        let meant = step
            .worked
            .and_then(|worked| self.ledger.said.get(worked))
            .filter(|said| said.writer == Writer::Clinician && said.client == client)
            .map(|said| said.means);
        let event = &line.entry.event;
        let fits = match event {
            Event::Resumed { .. } => meant == Some(Reading::Resume),
            Event::Closed { .. } => meant == Some(Reading::Close),
            Event::KeptStopped { .. } => meant == Some(Reading::KeepStopped),
            Event::Acknowledged { .. } => meant.is_some(),
            Event::Sitting { .. }
            | Event::Asked { .. }
            | Event::Advanced { .. }
            | Event::RoutineDue { .. } => !facts.stopped && !facts.closed,
            _ => true,
        };
        self.check_answers_newest(client, event, step)?;
        if fits {
            return Ok(());
        }
        let what = format!(
            "client {client}: {event:?}, while stopped: {}, ended: {}; a clinician said: {meant:?}",
            facts.stopped, facts.closed
        );
        Err(Broken::new(Promise::Stops, what))
    }

    /// An answer to an alert takes up, lifts and ends nothing of a newer one.
    fn check_answers_newest(
        &self,
        client: usize,
        event: &Event,
        step: &Step,
    ) -> Result<(), Broken> {
        let said = step.worked.and_then(|worked| self.ledger.said.get(worked));
        let Some(RequestTarget::Alert(answered)) = said.map(|said| said.target) else {
            return Ok(());
        };
        let decides = matches!(
            event,
            Event::Acknowledged { .. }
                | Event::Resumed { .. }
                | Event::KeptStopped { .. }
                | Event::Closed { .. }
        );
        let newest = self.ledger.clients[client].newest_alert;
        if !decides || answered.count() >= newest {
            return Ok(());
        }
        let what = format!(
            "client {client}: {event:?} by an answer to alert {answered}, while alert {newest} is \
             the newest"
        );
        Err(Broken::new(Promise::Stops, what))
    }
}
