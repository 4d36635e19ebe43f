//! Who is asked for a look, and when again (R12, R14, R15, R24, R26, R27).
//!
//! Never here: what an answer leads to.
//! Promises: no reminder in quiet hours; never more reminders than the plan allows.

use super::calendar::{Instant, Slot};
use super::event::{
    AlertCause, DropReason, Event, LookKind, RequestClock, StopReason, TellDetail, TellReason,
};
use super::ids::LookId;
use super::state::{Look, LookStatus, State};
use super::turn::Turn;
use crate::care::ContactId;

impl State {
    /// When an open look is asked again: at the end of its wait, or, for first and routine looks,
    /// at the end of the quiet hours that this falls into (R24).
    pub(super) fn asked_again_at(&self, look: &Look) -> Option<Instant> {
        let wait_until = look.clock.as_ref().filter(|_| look.status == LookStatus::Open)?;
        let wait_until = wait_until.wait_until?;
        let end_of_quiet = self
            .terms
            .quiet
            .filter(|_| look.kind != LookKind::Recheck)
            .and_then(|quiet| quiet.end_after(&self.terms.zone, wait_until));
        Some(end_of_quiet.unwrap_or(wait_until))
    }
}

impl Turn<'_> {
    /// The first contact on shift who can be reached, else the first who can be reached; with nobody
    /// left, the first all the same, so that the look's clock runs.
    pub(super) fn first_contact(&self) -> ContactId {
        let in_order = self.state.asked_in_order(self.now);
        let first = in_order.first().copied().or(self.state.terms.contacts.first());
        first.expect("OK because terms name at least one contact").clone()
    }

    /// The first request of a look; a recheck goes first to the contact who reported the mark,
    /// unless their shift is over and somebody else's is not.
    pub(super) fn ask_first(&mut self, id: LookId) {
        let look = self.look(id);
        let (kind, sitting) = (look.kind, look.sitting);
        let reporter = look.of.and_then(|of| self.look(of).found.as_ref()).map(|found| &found.by);
        let to = match reporter {
            Some(by) if !self.state.terms.contacts.contains(by) => self.first_contact(),
            Some(by) if self.state.is_relieved(by, self.now) => self.first_contact(),
            Some(by) if self.state.unreachable.contains(by) => {
                let next = self.state.next_contact(look, by, self.now).cloned();
                next.unwrap_or_else(|| self.first_contact())
            }
            Some(by) => by.clone(),
            None => self.first_contact(),
        };
        let limits = self.limits();
        let over_after = match kind {
            LookKind::Recheck => limits.recheck_within,
            LookKind::First | LookKind::Routine => limits.tell_clinic_after,
        };
        let clock = RequestClock::First {
            wait_until: self.wait_until(self.look(id), &to, 0),
            over_at: self.now + over_after.elapsed(),
        };
        let again = self.look(id).times_sent_to(&to);
        self.emit(Event::Asked { look: id, kind, sitting, to, again, clock });
    }

    /// The end of the wait that a request begins; none after the last contact's last request of a
    /// first or routine look. A recheck stays with the last contact.
    fn wait_until(&self, look: &Look, asked: &ContactId, repeats: u32) -> Option<Instant> {
        let goes_on = look.kind == LookKind::Recheck
            || repeats < self.limits().ask_again
            || self.state.next_contact(look, asked, self.now).is_some();
        goes_on.then(|| self.now + self.limits().answer_within.elapsed())
    }

    /// R14: a wait ran out: the same contact is asked again, or the next, or who is on shift now.
    pub(super) fn ask_again(&mut self, id: LookId) {
        let look = self.look(id);
        let Some(clock) = &look.clock else { return };
        let at = (self.limits().ask_again, self.now);
        let (to, repeats) = self.state.whose_turn(look, clock, at);
        self.ask(id, to, repeats);
    }

    /// R24: a reminder of a first or routine look whose wait ran out before the quiet hours, but
    /// which is met only in them (after an absence, or by a clock that was set on), waits for their
    /// end.
    pub(super) fn ask_again_by_day(&mut self, look: LookId) {
        let is_recheck = self.look(look).kind == LookKind::Recheck;
        match self.end_of_quiet().filter(|_| !is_recheck) {
            Some(until) => self.emit(Event::ReminderPutOff { look, until }),
            None => self.ask_again(look),
        }
    }

    /// The end of the quiet hours, where the present falls into them.
    fn end_of_quiet(&self) -> Option<Instant> {
        let terms = &self.state.terms;
        terms.quiet.and_then(|quiet| quiet.end_after(&terms.zone, self.now))
    }

    fn ask(&mut self, id: LookId, to: ContactId, repeats: u32) {
        let look = self.look(id);
        let (kind, sitting) = (look.kind, look.sitting);
        let again = look.times_sent_to(&to);
        let wait_until = self.wait_until(look, &to, repeats);
        let clock = RequestClock::Again { wait_until, repeats };
        self.emit(Event::Asked { look: id, kind, sitting, to, again, clock });
    }

    /// A routine look's time has come (R3, R8). In quiet hours it waits for their end (R24): a
    /// clock change or a time of absence can put it there, though no plan may.
    pub(super) fn routine_look(&mut self, slot: Slot) {
        let look = self.state.next_look();
        self.emit(Event::RoutineDue { look, slot: (slot.date, slot.time) });
        self.ask_routine(look);
    }

    /// R24: a routine look whose time comes, or is met after an absence, in quiet hours waits for
    /// their end.
    pub(super) fn ask_routine(&mut self, look: LookId) {
        match self.end_of_quiet() {
            Some(due) => self.emit(Event::LookMoved { look, due }),
            None => self.ask_first(look),
        }
    }

    /// R15: a look was not answered in time.
    pub(super) fn miss(&mut self, id: LookId) {
        let look = self.look(id);
        let (kind, sitting) = (look.kind, look.sitting);
        self.emit(Event::Missed { look: id, kind, sitting });
        self.tell(TellReason::Missed, TellDetail::Look { look: id });
        self.settle_sittings();
    }

    /// R12: nobody reported on a mark. An unknown mark is treated as a lasting one.
    pub(super) fn recheck_unreported(&mut self, id: LookId) {
        let sites = self.mark_sites(id);
        self.stop(StopReason::RecheckUnreported, sites, Some(id), None);
    }

    /// Looks whose time was over before a reply came, while the service was away, are missed
    /// first, so that a late answer is never taken for one in time (R15, R26).
    pub(super) fn overdue_before_a_reply(&mut self) {
        while let Some((id, kind)) = self.state.overdue_look(|over_at| over_at < self.now) {
            match kind {
                LookKind::Recheck => self.recheck_unreported(id),
                LookKind::First | LookKind::Routine => self.miss(id),
            }
        }
    }

    /// R27: mail to a contact fails for good: the next contact is asked at once; with none left,
    /// the clinic is alerted.
    pub(super) fn unreachable(&mut self, contact: &ContactId) {
        let known = self.state.terms.contacts.contains(contact);
        if !known || self.state.unreachable.contains(contact) || self.state.is_closed() {
            return;
        }
        self.emit(Event::Unreachable { contact: contact.clone() });
        let waiting: Vec<LookId> = self
            .state
            .unsettled_looks()
            .filter(|look| look.status == LookStatus::Open)
            .filter(|look| look.clock.as_ref().is_some_and(|clock| clock.asking == *contact))
            .map(|look| look.id)
            .collect();
        let mut nobody_left = self.state.reachable().next().is_none() || self.state.is_stopped();
        for look in waiting {
            match self.state.next_contact(self.look(look), contact, self.now).cloned() {
                Some(next) => self.ask(look, next, 0),
                None => nobody_left = true,
            }
        }
        let waiting_alert = self.state.alert.as_ref().is_some_and(|a| a.acknowledged.is_none());
        if nobody_left && !waiting_alert {
            self.raise_alert(AlertCause::NobodyReachable);
        }
    }

    /// The clinic changed who is asked: open looks of whoever is asked no longer, or was asked
    /// under another address, go to the first of the new order at once.
    pub(super) fn contacts_changed(&mut self, contacts: &[ContactId], readdressed: &[ContactId]) {
        if self.state.is_closed() || contacts.is_empty() {
            return;
        }
        self.emit(Event::ContactsChanged {
            contacts: contacts.to_vec(),
            readdressed: readdressed.to_vec(),
        });
        let is_lost = |asked: &ContactId| !contacts.contains(asked) || readdressed.contains(asked);
        let waiting: Vec<LookId> = self
            .state
            .unsettled_looks()
            .filter(|look| look.status == LookStatus::Open)
            .filter(|look| look.clock.as_ref().is_none_or(|clock| is_lost(&clock.asking)))
            .map(|look| look.id)
            .collect();
        for look in waiting {
            let first = self.first_contact();
            self.ask(look, first, 0);
        }
    }

    /// R26: after downtime what was missed is asked once. Of the routine looks and planned
    /// sittings that passed meanwhile, only the last of each is asked about.
    pub(super) fn awoke(&mut self, away_since: Instant) {
        self.emit(Event::Awoke { away_since });
        if self.state.is_closed() || self.state.is_stopped() {
            return;
        }
        let ladder = self.ladder();
        while let Some(slot) = self.state.next_routine_look(ladder)
            && self.state.routine_look_after(ladder, slot).is_some_and(|next| next.at <= self.now)
        {
            self.emit(Event::RoutinePassed { slot: (slot.date, slot.time) });
        }
        while let (Some(step), Some(slot)) =
            (self.state.step(), self.state.due_planned_sitting(ladder))
            && self.state.sitting_after(ladder, slot).is_some_and(|next| next.at <= self.now)
        {
            let slot = (slot.date, slot.time);
            self.emit(Event::Dropped { step, why: DropReason::Away, slot });
        }
    }
}
