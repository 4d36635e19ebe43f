//! One decision in the making: the state as it stands, and the entries so far.
//!
//! Never here: rules. Each rule is a method in the file that bears its subject.
//! Promises: the state changes by entries only, so what the journal gets is what happened.

use super::calendar::Instant;
use super::event::{AsideReason, Entry, Event, TellDetail, TellReason};
use super::ids::{LookId, SittingNumber};
use super::state::{Look, Sitting, State};
use super::terms::Basis;
use crate::care::{Ladder, Limits, Step};

/// A decision in the making.
pub(super) struct Turn<'a> {
    pub(super) state: &'a mut State,
    pub(super) basis: Basis<'a>,
    pub(super) now: Instant,
    pub(super) entries: Vec<Entry>,
}

impl<'a> Turn<'a> {
    pub(super) fn new(state: &'a mut State, basis: Basis<'a>, now: Instant) -> Self {
        Self { state, basis, now, entries: Vec::new() }
    }

    /// Lets something happen: the state follows, the journal gets it.
    pub(super) fn emit(&mut self, event: Event) {
        let entry = Entry { at: self.now, event };
        self.state.apply(&entry);
        self.entries.push(entry);
    }

    pub(super) fn limits(&self) -> &'a Limits {
        &self.basis.plan.looks
    }

    pub(super) fn ladder(&self) -> &'a Ladder {
        self.basis.ladder(&self.state.terms)
    }

    /// The plan's step, where the ladder still has it.
    pub(super) fn plan_step(&self, number: super::ids::StepNumber) -> Option<&'a Step> {
        number.count().checked_sub(1).and_then(|index| self.ladder().steps.get(index as usize))
    }

    pub(super) fn look(&self, id: LookId) -> &Look {
        self.state.look(id)
    }

    pub(super) fn sitting(&self, number: SittingNumber) -> &Sitting {
        self.state.sitting(number)
    }

    /// Tells the clinician on cover something that needs no acknowledgement.
    pub(super) fn tell(&mut self, why: TellReason, detail: TellDetail) {
        let to = self.first_on_cover();
        self.emit(Event::ClinicTold { why, to, detail });
    }

    pub(super) fn set_aside(&mut self, by: &str, why: AsideReason) {
        self.emit(Event::SetAside { by: by.to_owned(), why });
    }

    /// The first clinician on cover.
    ///
    /// # Panics
    /// When nobody is on cover: the clinic file is refused without one, so it is our bug.
    pub(super) fn first_on_cover(&self) -> crate::care::ClinicianId {
        self.basis.cover.first().expect("OK because a clinic file names at least one").clone()
    }
}
