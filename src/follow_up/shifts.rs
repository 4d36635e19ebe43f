//! Who is asked at which hours: contacts come in shifts (R14).
//!
//! Where no contact has hours, this is the plain calling order.
//!
//! Never here: when somebody is asked (`asking`), reading hours.
//! Promises: hours only put an order among the contacts; whoever else can be reached is asked after
//! those on shift, so that hours never leave a look without anybody to ask.

use chrono::{Datelike, Days};

use super::calendar::{Calendar, Instant};
use super::event::Event;
use super::state::{Look, LookClock, State};
use super::turn::Turn;
use crate::care::ContactId;
use crate::care::hours::{AskedHours, Stretch};

/// The hours of whoever has none of their own.
static ANY: AskedHours = AskedHours::ANY;

impl State {
    /// The hours in which a contact is asked.
    pub fn hours_of(&self, contact: &ContactId) -> &AskedHours {
        self.hours.get(contact).unwrap_or(&ANY)
    }

    /// Whether a contact's hours hold at an instant; who has none is asked at any hour.
    pub fn is_on_shift(&self, contact: &ContactId, at: Instant) -> bool {
        let zone = &self.terms.zone;
        let hours = self.hours_of(contact);
        hours.is_any() || hours.stretches().iter().any(|stretch| covers(stretch, zone, at))
    }

    /// Contacts who can be reached, in the order in which they are asked at an instant: those on
    /// shift, then the others, each in calling order. Where nobody is on shift, this is the calling
    /// order.
    pub fn asked_in_order(&self, at: Instant) -> Vec<&ContactId> {
        let (mut on, off): (Vec<_>, Vec<_>) =
            self.reachable().partition(|contact| self.is_on_shift(contact, at));
        on.extend(off);
        on
    }

    /// Whether somebody can be asked whose hours hold, while those of this contact do not.
    pub(super) fn is_relieved(&self, contact: &ContactId, at: Instant) -> bool {
        !self.is_on_shift(contact, at) && self.reachable().any(|other| self.is_on_shift(other, at))
    }

    /// Who is asked about a look after a contact. With hours the order changes with the time of
    /// day, so it is the first in the present order who was not asked about this look yet.
    pub(super) fn next_contact(
        &self,
        look: &Look,
        after: &ContactId,
        at: Instant,
    ) -> Option<&ContactId> {
        if !self.terms.contacts.iter().any(|contact| self.hours.contains_key(contact)) {
            return self.contact_after(after);
        }
        self.asked_in_order(at)
            .into_iter()
            .find(|contact| *contact != after && look.times_sent_to(contact) == 0)
    }

    /// R14: of whom an open look is asked next, and how often that contact was asked again by then.
    pub(super) fn whose_turn(
        &self,
        look: &Look,
        clock: &LookClock,
        (ask_again, at): (u32, Instant),
    ) -> (ContactId, u32) {
        let next = self.next_contact(look, &clock.asking, at);
        let is_relieved = self.is_relieved(&clock.asking, at);
        let asked_enough = clock.repeats >= ask_again;
        let takes_over =
            |next: &&ContactId| asked_enough || (is_relieved && self.is_on_shift(next, at));
        if let Some(next) = next.filter(takes_over) {
            return (next.clone(), 0);
        }
        // All have been asked. A recheck goes on; with somebody who is there now.
        let there = self.asked_in_order(at).into_iter().next();
        let to = there.filter(|_| is_relieved && asked_enough).unwrap_or(&clock.asking);
        (to.clone(), clock.repeats + 1)
    }

    /// The next contact after one, in calling order, among those who can be reached.
    fn contact_after(&self, contact: &ContactId) -> Option<&ContactId> {
        let position = self.terms.contacts.iter().position(|other| other == contact)?;
        self.terms.contacts[position + 1..]
            .iter()
            .find(|contact| !self.unreachable.contains(*contact))
    }
}

impl Turn<'_> {
    /// The clinic says when a contact is asked. What waits for an answer stays where it is: the
    /// next request goes by the new hours.
    pub(super) fn hours_said(&mut self, contact: &ContactId, hours: &AskedHours) {
        if self.state.hours_of(contact) != hours && !self.state.is_closed() {
            self.emit(Event::HoursSaid { contact: contact.clone(), hours: hours.clone() });
        }
    }
}

/// Whether a stretch holds an instant. Its ends are wall-clock times by R25: one that a clock change
/// skips is the first instant after the gap, one that occurs twice is the first of the two.
fn covers(stretch: &Stretch, zone: &Calendar, at: Instant) -> bool {
    let today = zone.date(at);
    [Some(today), today.checked_sub_days(Days::new(1))].into_iter().flatten().any(|day| {
        let last = day + Days::new(u64::from(stretch.crosses_midnight()));
        stretch.days().contains(day.weekday())
            && zone.instant(day, stretch.from()) <= at
            && at < zone.instant(last, stretch.to())
    })
}
