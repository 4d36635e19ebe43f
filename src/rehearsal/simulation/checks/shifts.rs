//! A contact is asked in their hours, or everybody who is in theirs was asked before.
//!
//! Never here: the core's own order of contacts.
//! Promises: counted by who was asked and by what the client's clock shows.

use std::collections::BTreeSet;

use chrono::{Datelike, NaiveDateTime};

use super::super::ledger::ClientFacts;
use super::super::trial::{Broken, Promise};
use super::super::world::World;
use crate::care::hours::Stretch;
use crate::care::{AskedHours, ContactId};
use crate::follow_up::event::RequestClock;
use crate::follow_up::{Entry, Event};

impl World<'_> {
    /// An entry that asks something of a contact, and what is known of who can be asked.
    pub(super) fn check_on_shift(&mut self, client: usize, entry: &Entry) -> Result<(), Broken> {
        let facts = &mut self.ledger.clients[client];
        let nobody = BTreeSet::new();
        let (to, asked) = match &entry.event {
            Event::Sitting { to, .. } => (to, &nobody),
            // Who wrote something unclear is asked what it meant, at any hour.
            Event::Asked { clock: RequestClock::Unchanged, .. } => return Ok(()),
            Event::Asked { to, look, .. } => (to, facts.asked.get(look).unwrap_or(&nobody)),
            Event::Unreachable { contact } => {
                facts.unreachable.insert(contact.clone());
                return Ok(());
            }
            _ => return Ok(()),
        };
        let shown = facts.calendar.local(entry.at).naive_local();
        let passed_over = facts.file.contacts.iter().find(|contact| {
            is_on(&contact.asked, shown)
                && !facts.unreachable.contains(&contact.id)
                && !asked.contains(&contact.id)
        });
        if let Some(contact) = passed_over.filter(|_| !is_in_hours(facts, to, shown)) {
            let what = format!(
                "client {client}: {to} was asked at {shown}, not in their hours; {} is",
                contact.id
            );
            return Err(Broken::new(Promise::Shifts, what));
        }
        if let Event::Asked { to, look, .. } = &entry.event {
            facts.asked.entry(*look).or_default().insert(to.clone());
        }
        Ok(())
    }
}

fn is_in_hours(facts: &ClientFacts, contact: &ContactId, shown: NaiveDateTime) -> bool {
    facts.file.contacts.iter().any(|known| known.id == *contact && is_on(&known.asked, shown))
}

/// Whether hours hold, in plain arithmetic on what the client's clock shows.
fn is_on(hours: &AskedHours, shown: NaiveDateTime) -> bool {
    let (today, time) = (shown.weekday(), shown.time());
    let holds = |stretch: &Stretch| {
        let (days, from, to) = (stretch.days(), stretch.from(), stretch.to());
        let began_today = days.contains(today) && from <= time;
        if from < to {
            began_today && time < to
        } else {
            began_today || (days.contains(today.pred()) && time < to)
        }
    };
    hours.is_any() || hours.stretches().iter().any(holds)
}
