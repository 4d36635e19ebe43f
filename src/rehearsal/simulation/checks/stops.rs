//! Promise 5: a stop is lifted by a clinician only.
//!
//! Never here: who the service thinks may decide.
//! Promises: each decision in the journal is held against who wrote the mail behind it, and what
//! that person meant.

use super::super::ledger::{Utterance, Writer};
use super::super::trial::{Broken, Promise};
use super::Sight;
use crate::care::Reading;
use crate::follow_up::Event;
use crate::store::RequestTarget;

impl Sight<'_> {
    /// An entry that decides, or that must not happen while stopped. `said` is what was worked
    /// through with it.
    pub(in super::super) fn check_decision(
        &self,
        client: usize,
        event: &Event,
        said: Option<&Utterance>,
    ) -> Result<(), Broken> {
        let facts = &self.ledger.clients[client];
        let meant = said
            .filter(|said| said.writer == Writer::Clinician && said.client == client)
            .map(|said| said.means);
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
        self.check_answers_newest(client, event, said)?;
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
        said: Option<&Utterance>,
    ) -> Result<(), Broken> {
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
