//! The checks that hold what the service did against what the simulation knows.
//!
//! Each promise has its file. `took_step` runs after every commit; `audit` every hour; the others
//! at the end. What needs neither store nor mail is held by `Sight`, at each depth; the rest is the
//! whole depth's own.
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

use chrono::TimeDelta;

use super::ledger::{Cause, Ledger, Notice, Step, Utterance};
use super::trial::{Broken, Promise};
use super::world::World;
use crate::follow_up::{Entry, Event, Instant};
use crate::store::{JournalLine, PersonRef, RequestTarget};

pub(super) use reminders::Request;

/// What the checks see of a world that are the same at each depth.
pub(super) struct Sight<'w> {
    pub(super) ledger: &'w Ledger,
    pub(super) now: Instant,
    /// Since when the service could have done what it owes; none while it cannot.
    pub(super) able_since: Option<Instant>,
    /// The last time that the clock was set back, and by how much, until it is noticed.
    pub(super) set_back: Option<(Instant, TimeDelta)>,
    /// Whether the clock was ever set back.
    pub(super) was_set_back: bool,
    /// When the service started after a step back that hid some of its absence, and how much.
    pub(super) hidden: &'w [(Instant, TimeDelta)],
}

/// What one step led to for the people who must hear of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Led {
    /// Something went to a clinician.
    pub(super) told: bool,
    /// An alert did.
    pub(super) alerted: bool,
    /// Something said was set aside.
    pub(super) set_aside: bool,
}

impl Sight<'_> {
    /// An entry, before the ledger takes it. `said` is what was worked through with it.
    pub(super) fn check_entry(
        &self,
        client: usize,
        (number, entry): (u64, &Entry),
        said: Option<&Utterance>,
    ) -> Result<(), Broken> {
        self.check_entry_in_order(client, number, entry)?;
        self.check_decision(client, &entry.event, said)?;
        self.check_credit(client, entry)?;
        self.check_no_false_calm(&entry.event, said)
    }

    /// What is owed at this moment.
    pub(super) fn check_owed(&self) -> Result<(), Broken> {
        self.check_alerts_go_on()?;
        self.check_no_look_forgotten()
    }

    /// How much longer things may take, since the clock was set back meanwhile.
    fn set_back_since(&self, since: Instant) -> TimeDelta {
        match self.set_back {
            Some((at, by)) if at >= since => by,
            _ => TimeDelta::zero(),
        }
    }
}

impl World<'_> {
    /// What the checks see that are the same at each depth.
    pub(super) fn sight(&self) -> Sight<'_> {
        Sight {
            ledger: &self.ledger,
            now: self.now,
            able_since: self.able_since(),
            set_back: self.set_back,
            was_set_back: self.was_set_back,
            hidden: &self.station.hidden,
        }
    }

    /// One commit of the service.
    pub(super) fn took_step(&mut self, step: &Step) -> Result<(), Broken> {
        self.tell_step(step);
        self.note_worked(step)?;
        let said = step.worked.and_then(|worked| self.ledger.said.get(worked)).cloned();
        let said = said.as_ref();
        let stopped_before = said.is_some_and(|said| self.ledger.clients[said.client].stopped);
        let open_recheck = self.ledger.is_about_open_recheck(said);
        let mut occasion = None;
        for (client, line) in &step.entries {
            self.check_entry_traced(line, step, &mut occasion)?;
            self.check_line(*client, line, said)?;
        }
        let any =
            |is: fn(&Event) -> bool| step.entries.iter().any(|(_, line)| is(&line.entry.event));
        let in_place = any(|event| matches!(event, Event::Unreachable { .. }));
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
            self.check_put_in(&notice, in_place)?;
            if notice.is_urgent() {
                self.ledger.untaken.insert(mail.id.number());
            }
            self.ledger.notices.insert(mail.id.number(), notice);
        }
        let Some(said) = said else { return Ok(()) };
        let led = Led {
            told: step.mails.iter().any(|mail| matches!(mail.person, PersonRef::Clinician(_))),
            alerted: step.mails.iter().any(|mail| matches!(mail.target, RequestTarget::Alert(_))),
            set_aside: any(|event| matches!(event, Event::SetAside { .. })),
        };
        self.ledger.note_clinician(said, led, self.now);
        self.sight().check_worked(said, (stopped_before, open_recheck), led)
    }

    fn check_line(
        &mut self,
        client: usize,
        line: &JournalLine,
        said: Option<&Utterance>,
    ) -> Result<(), Broken> {
        self.sight().check_entry(client, (line.number, &line.entry), said)?;
        self.ledger.check_on_shift(client, &line.entry)?;
        let (cause, about) = Ledger::cause_of(&line.entry.event);
        self.ledger.causes.insert(line.seq, (client, cause, about));
        self.ledger.take(client, line.number, &line.entry, self.now);
        self.ledger.clients[client].add_up(line);
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
        self.sight().check_owed()?;
        self.check_no_urgent_mail_waits()?;
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

    /// Since when the service could have done what it owes; none while it cannot.
    fn able_since(&self) -> Option<Instant> {
        let is_able = self.station.is_up && !self.station.is_full;
        is_able.then(|| self.station.up_since.max(self.station.room_since))
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
