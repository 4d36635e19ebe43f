//! The acts of the service: one occasion for one follow-up, and what it leads to.
//!
//! Never here: when it is time for one (`process`), what people do (`post`).
//! Promises: as `service::act`: journalled in order, and what came due meanwhile is done with it,
//! unless the service was away.

use super::Rules;
use super::post::{Letter, Mail, Reader};
use crate::care::{Plan, PlanVersion};
use crate::follow_up::{Basis, Entry, Event, Instant, Occasion};
use crate::rehearsal::simulation::checks::{Led, Request};
use crate::rehearsal::simulation::ledger::{Cause, Ledger};
use crate::rehearsal::simulation::trial::{Broken, Promise};
use crate::service::due::LATE_MAX;

impl Rules {
    /// Works a letter through.
    pub(super) fn work_through(&mut self, letter: &Letter) -> Result<(), Broken> {
        let now = self.service_now();
        if let Some(number) = letter.said {
            self.replies += 1;
            let said = &mut self.ledger.said[number];
            said.worked_at.get_or_insert(letter.came_at);
        }
        let at = letter.dated.unwrap_or(now).min(now);
        self.act(letter.client, &letter.occasion, at, letter.said)
    }

    /// One act. `said` is what is worked through with it.
    pub(super) fn act(
        &mut self,
        client: usize,
        occasion: &Occasion,
        at: Instant,
        said: Option<usize>,
    ) -> Result<(), Broken> {
        let follow_up = &mut self.follow_ups[client];
        let state = &mut follow_up.state;
        let plan = on_shelf(&self.shelf, &state.terms.plan)?;
        let basis = Basis { plan, cover: &follow_up.cover };
        let last = follow_up.journal.last().map(|entry| entry.at);
        let at = match occasion {
            Occasion::ClockSetBack { .. } => at,
            _ => last.map_or(at, |last| last.max(at)),
        };
        let behind = follow_up.next_due.is_some_and(|due| at - due > LATE_MAX);
        let mut entries = state.advance(basis, occasion, at);
        if !matches!(occasion, Occasion::Clock) && !behind {
            entries.extend(state.advance(basis, &Occasion::Clock, at));
        }
        follow_up.next_due = state.next_due(&basis);
        self.took_step(client, occasion, &entries, said)?;
        self.follow_ups[client].journal.extend(entries);
        Ok(())
    }

    /// Holds what an act led to against the record, and sends its mail.
    fn took_step(
        &mut self,
        client: usize,
        occasion: &Occasion,
        entries: &[Entry],
        said: Option<usize>,
    ) -> Result<(), Broken> {
        let said = said.map(|number| self.ledger.said[number].clone());
        let said = said.as_ref();
        if self.story.is_some() {
            self.tell_step(client, entries, said);
        }
        let stopped_before = self.ledger.clients[client].stopped;
        let open_recheck = self.ledger.is_about_open_recheck(said);
        for entry in entries {
            Self::check_entry_traced(entry, occasion, said)?;
            let number = self.ledger.clients[client].entries + 1;
            self.sight().check_entry(client, (number, entry), said)?;
            self.send(client, occasion, entry)?;
            self.ledger.check_on_shift(client, entry)?;
            self.ledger.take(client, number, entry, self.now);
            if matches!(entry.event, Event::Alerted { .. }) {
                self.ledger.clients[client].note_alert_offered(self.now);
            }
        }
        let Some(said) = said else { return Ok(()) };
        let any = |is: fn(&Event) -> bool| entries.iter().any(|entry| is(&entry.event));
        let alerted = any(|event| matches!(event, Event::Alerted { .. }));
        let led = Led {
            told: alerted || any(|event| matches!(event, Event::ClinicTold { .. })),
            alerted,
            set_aside: any(|event| matches!(event, Event::SetAside { .. })),
        };
        self.ledger.note_clinician(said, led, self.now);
        self.sight().check_worked(said, (stopped_before, open_recheck), led)
    }

    /// Sends the mail that an entry calls for. A request is held against the plan first.
    fn send(&mut self, client: usize, occasion: &Occasion, entry: &Entry) -> Result<(), Broken> {
        let facts = &self.ledger.clients[client];
        let reader = match &entry.event {
            Event::Sitting { to, .. } | Event::Asked { to, .. } | Event::ToldToStop { to } => {
                facts.place_of(to).map(Reader::Contact)
            }
            Event::Alerted { to, .. } => {
                self.clinicians.iter().position(|(id, _)| id == to).map(Reader::Clinician)
            }
            Event::ClinicTold { .. } => {
                self.mails += 1;
                None
            }
            _ => None,
        };
        let Some(reader) = reader else { return Ok(()) };
        let (cause, target) = Ledger::cause_of(&entry.event);
        if let (Event::Asked { look, .. }, Reader::Contact(place)) = (&entry.event, reader) {
            let in_place = matches!(occasion, Occasion::Unreachable { .. });
            let request = Request { client, cause, target, at: entry.at, in_place };
            let before = facts.times_asked(*look, place);
            let before = before.saturating_sub(usize::from(cause == Cause::AskedAnew));
            self.sight().check_request(&request, || before)?;
        }
        self.post(Mail { client, reader, cause, target });
        Ok(())
    }
}

/// The plan of a version.
pub(super) fn on_shelf<'s>(
    shelf: &'s [(PlanVersion, Plan)],
    version: &PlanVersion,
) -> Result<&'s Plan, Broken> {
    let found = shelf.iter().find(|(known, _)| known == version).map(|(_, plan)| plan);
    found.ok_or_else(|| Broken::new(Promise::Pinned, "a follow-up is on a plan of nobody's"))
}
