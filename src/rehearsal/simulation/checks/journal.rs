//! Promise 7: the journal rebuilds the state exactly, and its chain holds; and the plan that a
//! follow-up is pinned to stays.
//!
//! Never here: tampering (the store's own tests do that).
//! Promises: read from what is committed.

use super::super::trial::{Broken, Promise};
use super::super::world::World;
use super::Sight;
use crate::follow_up::{Entry, Event};
use crate::store::StoreError;

impl Sight<'_> {
    /// Entries never go back in time, but for the one that says that the clock was set back, where
    /// it truly was; and none is left out.
    pub(super) fn check_entry_in_order(
        &self,
        client: usize,
        number: u64,
        entry: &Entry,
    ) -> Result<(), Broken> {
        let facts = &self.ledger.clients[client];
        let says_so = match &entry.event {
            Event::ClockSetBack { instead_of } => self.was_set_back && *instead_of > entry.at,
            _ => false,
        };
        let backwards = !says_so && facts.last_entry_at.is_some_and(|last| last > entry.at);
        if number == facts.entries + 1 && !backwards {
            return Ok(());
        }
        let what = format!(
            "client {client}: entry {} at {} follows entry {} at {:?}",
            number, entry.at, facts.entries, facts.last_entry_at
        );
        Err(Broken::new(Promise::Journal, what))
    }
}

impl World<'_> {
    /// The state that is kept is what the journal adds up to. Each entry was read back and added once,
    /// when it was committed; the hash tells that the journal still ends with those entries.
    pub(super) fn check_state_as_journalled(&self) -> Result<(), Broken> {
        let store = self.station.view();
        for facts in &self.ledger.clients {
            let follow_up = facts.follow_up;
            let loaded = store.read(|view| view.load(follow_up)).map_err(unreadable)?;
            let (state, hash) = facts
                .journalled
                .as_ref()
                .expect("OK because the enrolment is an entry, and was seen");
            if *state != loaded.state || *hash != loaded.head.hash() {
                let what = format!("follow-up {follow_up} is not what its journal adds up to");
                return Err(Broken::new(Promise::Journal, what));
            }
        }
        Ok(())
    }

    /// The whole journal is read and verified. With the hash at its end, this shows that each entry
    /// still is what it was when it was added up.
    pub(in super::super) fn check_journal(&self) -> Result<(), Broken> {
        let store = self.station.view();
        let verification = store.read(|view| view.verify_journal()).map_err(unreadable)?;
        if let Some(finding) = verification.findings.first() {
            return Err(Broken::new(Promise::Journal, finding.to_string()));
        }
        self.check_state_as_journalled()
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

fn unreadable(error: StoreError) -> Broken {
    Broken::new(Promise::Journal, format!("the journal cannot be read: {error}"))
}
