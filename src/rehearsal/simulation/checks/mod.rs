//! The checks that hold what the service did against what the simulation knows.
//!
//! Each promise has its file. `took_step` runs after every commit; `audit` every hour; the others
//! at the end.
//!
//! Never here: the service's opinion of itself; from its journal only labels are taken.
//! Promises: a check keeps to its own naive count, and a planted fault makes each of them fail
//! (`tests/mutations`).

mod advances;
mod alerts;
mod calm;
mod journal;
mod reminders;
mod replies;
mod shifts;
mod stops;
mod traces;

use super::ledger::{Cause, Ledger, Notice, Owed, Step};
use super::trial::{Broken, Promise};
use super::world::World;
use crate::follow_up::event::{AlertSending, LookKind};
use crate::follow_up::{Event, Instant};
use crate::store::{JournalLine, RequestTarget};

impl World<'_> {
    /// One commit of the service.
    pub(super) fn took_step(&mut self, step: &Step) -> Result<(), Broken> {
        let before: Vec<bool> = self.ledger.clients.iter().map(|client| client.stopped).collect();
        let open_recheck = self.is_about_open_recheck(step);
        self.tell_step(step);
        self.note_worked(step)?;
        let mut occasion = None;
        for (client, line) in &step.entries {
            self.check_entry_traced(line, step, &mut occasion)?;
            self.check_entry(*client, line, step)?;
        }
        for mail in &step.mails {
            let cause = mail.cause.and_then(|seq| self.ledger.causes.get(&seq).copied());
            self.check_traced(mail, cause, step)?;
            let cause = cause.map(|(_, cause, _)| cause);
            let notice = Notice {
                record: mail.clone(),
                cause,
                touched: self.now,
                refused: false,
                offered: 0,
                accepted: 0,
                excused: 0,
            };
            self.check_request(&notice, step)?;
            if notice.is_urgent() {
                self.ledger.untaken.insert(mail.id.number());
            }
            self.ledger.notices.insert(mail.id.number(), notice);
        }
        if let Some(worked) = step.worked {
            let stopped_before = self
                .ledger
                .said
                .get(worked)
                .is_some_and(|said| before.get(said.client).copied().unwrap_or(false));
            self.check_worked(worked, (stopped_before, open_recheck), step)?;
        }
        Ok(())
    }

    /// Whether what is worked through answers a recheck that waits for its answer.
    fn is_about_open_recheck(&self, step: &Step) -> bool {
        let said = step.worked.and_then(|worked| self.ledger.said.get(worked));
        let Some((said, RequestTarget::Look(id))) = said.map(|said| (said, said.target)) else {
            return false;
        };
        self.ledger.clients[said.client]
            .look(id)
            .is_some_and(|look| look.kind == LookKind::Recheck && !look.settled)
    }

    fn check_entry(
        &mut self,
        client: usize,
        line: &JournalLine,
        step: &Step,
    ) -> Result<(), Broken> {
        self.check_entry_in_order(client, line)?;
        self.check_decision(client, line, step)?;
        self.check_credit(client, line)?;
        self.check_no_false_calm(line, step)?;
        self.check_on_shift(client, &line.entry)?;
        let (cause, about) = Ledger::cause_of(&line.entry.event);
        self.ledger.causes.insert(line.seq, (client, cause, about));
        let now = self.now;
        let facts = &mut self.ledger.clients[client];
        facts.label(line, now);
        facts.add_up(line);
        match &line.entry.event {
            Event::Stopped { .. } => facts.stopped = true,
            Event::Resumed { .. } => {
                facts.stopped = false;
                facts.owed = None;
            }
            Event::Closed { .. } => {
                facts.closed = true;
                facts.owed = None;
            }
            Event::Advanced { .. } | Event::Routine { .. } => self.ledger.advances += 1,
            Event::Alerted { alert, sending: AlertSending::Raised, .. } => {
                self.ledger.alerts += 1;
                facts.newest_alert = alert.count();
                facts.owed = Some(Owed { last_offered: now, offered: false, acknowledged: false });
            }
            _ => {}
        }
        Ok(())
    }

    /// Takes note that something said was worked through.
    fn note_worked(&mut self, step: &Step) -> Result<(), Broken> {
        let Some(inbox) = step.inbox else { return Ok(()) };
        let times = self.ledger.worked.entry(inbox.number()).or_default();
        *times += 1;
        if *times > 1 {
            let what = format!("mail {inbox} of the inbox was worked through {times} times");
            return Err(Broken::new(Promise::Replies, what));
        }
        let came_at = self
            .ledger
            .posted
            .iter()
            .find(|posted| posted.inbox == Some(inbox))
            .map(|posted| posted.came_at);
        let came_at = came_at.unwrap_or(self.now);
        if let Some(said) = step.worked.and_then(|worked| self.ledger.said.get_mut(worked))
            && said.worked_at.is_none()
        {
            said.worked_at = Some(came_at);
        }
        Ok(())
    }

    /// What is owed at this moment.
    pub(super) fn audit(&mut self) -> Result<(), Broken> {
        self.check_alerts_go_on()?;
        self.check_no_urgent_mail_waits()?;
        self.check_no_look_forgotten()?;
        // What nobody has written to since is as it was.
        if self.ledger.pinned_at != Some(self.station.writes) {
            self.check_pinned()?;
            self.ledger.pinned_at = Some(self.station.writes);
        }
        let is_new_day = self.now.timestamp() % (24 * 3600) < 3600;
        if is_new_day && self.ledger.held_at != Some(self.station.writes) {
            self.check_state_as_journalled()?;
            self.ledger.held_at = Some(self.station.writes);
        }
        Ok(())
    }

    /// Since when the service could have done what it owes.
    fn able_since(&self) -> Instant {
        self.station.up_since.max(self.station.room_since)
    }

    fn is_able(&self) -> bool {
        self.station.is_up && !self.station.is_full
    }

    /// How much longer things may take, since the clock was set back meanwhile.
    fn set_back_since(&self, since: Instant) -> chrono::TimeDelta {
        match self.set_back {
            Some((at, by)) if at >= since => by,
            _ => chrono::TimeDelta::zero(),
        }
    }

    fn tell_step(&mut self, step: &Step) {
        if self.story.is_none() {
            return;
        }
        if let Some(worked) = step.worked
            && let Some(said) = self.ledger.said.get(worked)
        {
            let words = self
                .ledger
                .posted
                .iter()
                .find(|posted| posted.inbox == step.inbox)
                .map(|posted| Self::words_of(&posted.raw))
                .unwrap_or_default();
            let text = format!(
                "client {} said ({:?}, meaning {}, about {:?}): {words}",
                said.client,
                said.writer,
                said.means.name(),
                said.target
            );
            self.tell(|| text);
        }
        for (client, line) in &step.entries {
            let skew = line.entry.at - self.now;
            let late = if skew.is_zero() {
                String::new()
            } else {
                format!(" (journalled at {})", line.entry.at.format("%H:%M:%S"))
            };
            let event = format!("client {client}: {:?}{late}", line.entry.event);
            self.tell(|| event);
        }
    }
}

/// Whether a cause asks something of a contact.
fn asks(cause: Cause) -> bool {
    matches!(
        cause,
        Cause::Announced | Cause::AskedFirst(_) | Cause::AskedAgain(_) | Cause::AskedAnew
    )
}
