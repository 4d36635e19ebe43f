//! The decision itself: one occasion in, entries out.
//!
//! Never here: the rules one by one (each file beside this one carries its own).
//! Promises: the closed list of occasions is all that ever changes a follow-up.

use super::calendar::Instant;
use super::due::Due;
use super::event::{Entry, Event, LookKind};
use super::occasion::Occasion;
use super::state::State;
use super::terms::Basis;
use super::turn::Turn;

/// How many things one instant can take before we stop: a promise that no rule feeds itself.
const STEPS_MAX: usize = 100_000;

impl State {
    /// What an occasion leads to; the state is left as it was.
    pub fn decide(&self, basis: Basis<'_>, occasion: &Occasion, now: Instant) -> Vec<Entry> {
        self.clone().advance(basis, occasion, now)
    }

    /// What an occasion leads to, with the state moved on by it.
    ///
    /// # Panics
    /// When one instant never comes to an end, which is our bug.
    pub fn advance(&mut self, basis: Basis<'_>, occasion: &Occasion, now: Instant) -> Vec<Entry> {
        let mut turn = Turn::new(self, basis, now);
        match occasion {
            Occasion::Clock => turn.clock(),
            Occasion::Reply { by, verdict, aim } => turn.reply(by, verdict, *aim),
            Occasion::Decision { by, verdict, answers } => turn.decision(by, verdict, *answers),
            Occasion::Unreachable { contact } => turn.unreachable(contact),
            Occasion::Contacts { contacts, readdressed } => {
                turn.contacts_changed(contacts, readdressed);
            }
            Occasion::Hours { contact, hours } => turn.hours_said(contact, hours),
            Occasion::Fitted { version, date, in_spite_of } => {
                let in_spite_of = in_spite_of.clone();
                turn.fitted(Event::Fitted { version: version.clone(), date: *date, in_spite_of });
            }
            Occasion::Adopt { by, plan } => turn.adopt(by, plan),
            Occasion::Pause { by, why } => turn.pause(by, *why),
            Occasion::Unpause { by, step } => turn.unpause(by, *step),
            Occasion::Awoke { away_since } => {
                turn.awoke(*away_since);
                turn.clock();
            }
            Occasion::ClockSetBack { instead_of, noticed } => {
                turn.clock_set_back(*instead_of, *noticed);
            }
        }
        turn.entries
    }
}

impl Turn<'_> {
    /// A fitting changes what is tested, and nothing else: sitting goes on as the clinician
    /// decides. After the end of a follow-up there is nothing to test.
    fn fitted(&mut self, fitted: Event) {
        if !self.state.is_closed() {
            self.emit(fitted);
        }
    }

    /// Lets everything happen that is due, in the order of one instant.
    fn clock(&mut self) {
        for _ in 0..STEPS_MAX {
            let Some(due) = self.state.first_due(&self.basis, self.now) else { return };
            match due {
                Due::Miss(look) => self.miss(look),
                Due::RecheckUnreported(look) => self.recheck_unreported(look),
                Due::AskAgain(look) => self.ask_again_by_day(look),
                Due::Alert => self.send_alert(),
                Due::Midnight(date) => self.midnight(date),
                Due::Review(day) => self.emit(Event::Review { day }),
                Due::RoutineLook(slot) => self.routine_look(slot),
                Due::AskFirst(look) if self.look(look).kind == LookKind::Routine => {
                    self.ask_routine(look);
                }
                Due::AskFirst(look) => self.ask_first(look),
                Due::Sitting(slot) => self.planned_sitting(slot),
            }
        }
        panic!("an instant did not come to an end");
    }
}
