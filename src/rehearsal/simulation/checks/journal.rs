//! Promise 7: the journal rebuilds the state exactly, and its chain holds; and the plan that a
//! follow-up is pinned to stays.
//!
//! Never here: tampering (the store's own tests do that).
//! Promises: read from what is committed.

use super::super::trial::{Broken, Promise};
use super::super::world::World;
use crate::follow_up::Event;
use crate::store::{JournalLine, StoreError};

impl World<'_> {
    /// Entries never go back in time, but for the one that says that the clock was set back, where
    /// it truly was; and none is left out.
    pub(super) fn check_entry_in_order(
        &self,
        client: usize,
        line: &JournalLine,
    ) -> Result<(), Broken> {
        let facts = &self.ledger.clients[client];
        let says_so = match &line.entry.event {
            Event::ClockSetBack { instead_of } => self.was_set_back && *instead_of > line.entry.at,
            _ => false,
        };
        let backwards = !says_so && facts.last_entry_at.is_some_and(|last| last > line.entry.at);
        if line.number == facts.entries + 1 && !backwards {
            return Ok(());
        }
        let what = format!(
            "client {client}: entry {} at {} follows entry {} at {:?}",
            line.number, line.entry.at, facts.entries, facts.last_entry_at
        );
        Err(Broken::new(Promise::Journal, what))
    }

    /// The state that is kept is what the journal adds up to. What was folded before is not read
    /// again: that the journal still has it as it was is seen when the whole of it is verified.
    pub(super) fn check_state_as_journalled(&mut self) -> Result<(), Broken> {
        let store = self.station.view();
        for facts in &mut self.ledger.clients {
            let follow_up = facts.follow_up;
            let (count, folded) = facts.folded.take().map_or((0, None), |(n, s)| (n, Some(s)));
            let kept = store.read(|view| {
                let loaded = view.load(follow_up)?;
                let tail = view.journal_tail(follow_up, loaded.head.entries - count)?;
                Ok((loaded, tail))
            });
            let (loaded, tail) = kept.map_err(|error: StoreError| {
                Broken::new(Promise::Journal, format!("the journal cannot be read: {error}"))
            })?;
            let state = tail
                .iter()
                .fold(folded, |state, line| Some(crate::follow_up::State::fold(state, &line.entry)))
                .expect("OK because a journal begins with the enrolment");
            if state != loaded.state {
                let what = format!("follow-up {follow_up} is not what its journal adds up to");
                return Err(Broken::new(Promise::Journal, what));
            }
            facts.folded = Some((loaded.head.entries, state));
        }
        Ok(())
    }

    /// The whole journal is read, verified and folded.
    pub(in super::super) fn check_journal(&mut self) -> Result<(), Broken> {
        let refused = |error: StoreError| {
            Broken::new(Promise::Journal, format!("the journal cannot be read: {error}"))
        };
        let follow_ups: Vec<_> =
            self.ledger.clients.iter().map(|client| client.follow_up).collect();
        let store = self.station.view();
        let verification = store.read(|view| view.verify_journal()).map_err(refused)?;
        if let Some(finding) = verification.findings.first() {
            return Err(Broken::new(Promise::Journal, finding.to_string()));
        }
        for follow_up in follow_ups {
            let same = store.read(|view| view.is_state_as_journalled(follow_up));
            if !same.map_err(refused)? {
                let what = format!("follow-up {follow_up} is not what its journal adds up to");
                return Err(Broken::new(Promise::Journal, what));
            }
        }
        Ok(())
    }

    /// The plan that a client was enrolled on is the plan that runs.
    pub(super) fn check_pinned(&mut self) -> Result<(), Broken> {
        let pinned: Vec<_> = self
            .ledger
            .clients
            .iter()
            .map(|client| (client.follow_up, client.plan_version.clone()))
            .collect();
        let listed = self.station.view().read(|view| view.follow_ups(None, 100));
        let listed = listed.map_err(|error: StoreError| {
            Broken::new(Promise::Pinned, format!("follow-ups cannot be listed: {error}"))
        })?;
        for (follow_up, version) in pinned {
            let stays =
                listed.iter().any(|listed| listed.follow_up == follow_up && listed.plan == version);
            if !stays {
                let what = format!("follow-up {follow_up} is on another plan than it began with");
                return Err(Broken::new(Promise::Pinned, what));
            }
        }
        Ok(())
    }
}
