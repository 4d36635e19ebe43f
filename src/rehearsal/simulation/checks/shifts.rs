//! A contact is asked in their hours, or everybody who is in theirs was asked before.
//!
//! Never here: the core's own order of contacts.
//! Promises: counted by who was asked and by what the client's clock shows.

use chrono::{Datelike, NaiveDateTime};

use super::super::ledger::{ClientFacts, Ledger};
use super::super::trial::{Broken, Promise};
use crate::care::hours::Stretch;
use crate::care::{AskedHours, ContactId};
use crate::follow_up::event::RequestClock;
use crate::follow_up::{Entry, Event};

impl Ledger {
    /// An entry that asks something of a contact, and what is known of who can be asked.
    pub(in super::super) fn check_on_shift(
        &mut self,
        client: usize,
        entry: &Entry,
    ) -> Result<(), Broken> {
        let facts = &mut self.clients[client];
        let (to, look) = match &entry.event {
            Event::Sitting { to, .. } => (to, None),
            // Who wrote something unclear is asked what it meant, at any hour.
            Event::Asked { to, look, clock: RequestClock::Unchanged, .. } => {
                if let Some(place) = facts.place_of(to) {
                    facts.note_asked(*look, place, true);
                }
                return Ok(());
            }
            Event::Asked { to, look, .. } => (to, Some(*look)),
            Event::Unreachable { contact } => {
                facts.unreachable.insert(contact.clone());
                return Ok(());
            }
            _ => return Ok(()),
        };
        let shown = facts.calendar.local(entry.at).naive_local();
        let was_asked = |place: usize| look.is_some_and(|look| facts.was_asked(look, place));
        let passed_over = facts.file.contacts.iter().enumerate().find(|(place, contact)| {
            is_on(&contact.asked, shown)
                && !facts.unreachable.contains(&contact.id)
                && !was_asked(*place)
        });
        if let Some((_, contact)) = passed_over.filter(|_| !is_in_hours(facts, to, shown)) {
            let what = format!(
                "client {client}: {to} was asked at {shown}, not in their hours; {} is",
                contact.id
            );
            return Err(Broken::new(Promise::Shifts, what));
        }
        if let (Some(look), Some(place)) = (look, facts.place_of(to)) {
            facts.note_asked(look, place, false);
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
