//! The service under the world's clock: the same acts as the running service, one transaction
//! after the other, each of which may be the last.
//!
//! ```text
//! mailbox ─▶ take in ─▶ work through ─▶ what is due ─▶ send ─▶ sleep
//! ```
//!
//! Never here: the acts themselves (`crate::service`), the checks.
//! Promises: between any two commits the process may be killed; what it had in memory is then
//! gone, and what it had committed is found again.

use chrono::TimeDelta;

use super::fault::Fault;
use super::ledger::Posted;
use super::transactions::Halt;
use super::trial::{Broken, Promise};
use super::world::{Happening, World};
use crate::follow_up::Instant;
use crate::post::Outcome as Sent;
use crate::reply::letter;
use crate::service::clock::ClockWatch;
use crate::service::taking::{Arrived, Placed};
use crate::service::{ServiceError, answers, due, sending, taking, waking};
use crate::store::{
    ClaimedMail, JournalSeq, MailboxMark, OutboxId, Solo, StoreError, TakenMail, View,
};

/// Mails that are claimed at once, as in the running service.
const CLAIMED_MAX: u32 = 12;
/// How long the service waits before it tries a failing store again. The running service waits
/// five seconds; a minute makes the same mistakes in fewer steps.
const AFTER_FAILURE: TimeDelta = TimeDelta::minutes(1);
/// A letter is met by the service at most so often in one go, to notice what never ends.
const ROUNDS_MAX: u32 = 10_000;

/// A mail that was handed over, with what the server said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Heard {
    pub(super) mail: ClaimedMail,
    pub(super) outcome: Sent,
}

/// The service's process, with what it has in memory.
#[derive(Debug)]
pub(super) struct Station {
    pub(super) store: Option<Solo>,
    pub(super) is_up: bool,
    /// Whether this run has woken up, and gives signs of life.
    pub(super) has_woken: bool,
    /// Since when it runs.
    pub(super) up_since: Instant,
    /// How often it has started.
    pub(super) runs: u64,
    /// When its timer runs out.
    pub(super) wakes_at: Option<Instant>,
    /// What servers said that is not written down yet.
    pub(super) unsettled: Vec<Heard>,
    pub(super) is_full: bool,
    /// Since when there is room.
    pub(super) room_since: Instant,
    /// While it is off: by how much the clock was set back since, or before where it could not write
    /// that down.
    pub(super) off: Option<TimeDelta>,
    /// When it started after such a step, and by how much at most what waited then may wait longer:
    /// how much of its absence the step hid nobody can tell it.
    pub(super) hidden: Vec<(Instant, TimeDelta)>,
    /// Time slept through on purpose.
    pub(super) leapt: TimeDelta,
    /// The steady clock's watch over the other one, from each start anew.
    pub(super) clock_watch: ClockWatch,
    /// Letters that could not be put back in the queue yet.
    pub(super) stuck: Vec<TakenMail>,
    pub(super) last_mail: Option<OutboxId>,
    /// What the store was last seen to hold.
    pub(super) glance: Glance,
    /// How often the store was written to.
    pub(super) writes: u64,
    /// The newest entry that was held against the record.
    pub(super) last_entry: Option<JournalSeq>,
}

/// What the service's loops look for in the store, as far as they have looked. One who has it for
/// themselves need not look again until they have written to it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Glance {
    /// When something is due.
    due: Option<Option<Instant>>,
    /// When mail is to be tried next, and when the last of it.
    tries: Option<Option<(Instant, Instant)>>,
    /// Whether received mail waits to be worked through.
    mail_waits: Option<bool>,
}

impl Glance {
    /// What is still so after a step. Those that move nothing touch the mail that they are about and
    /// nothing else; what they should change by mistake is seen after the next step.
    pub(super) fn after(self, doing: &str) -> Self {
        match doing {
            "takes mail in" | "begins a mail" | "puts a mail back" => {
                Self { mail_waits: None, ..self }
            }
            "claims mail" | "notes that mail went" => Self { tries: None, ..self },
            _ => Self::default(),
        }
    }
}

impl Station {
    pub(super) fn new(store: Solo) -> Self {
        Self {
            store: Some(store),
            is_up: false,
            has_woken: false,
            up_since: Instant::UNIX_EPOCH,
            runs: 0,
            wakes_at: None,
            unsettled: Vec::new(),
            is_full: false,
            room_since: Instant::UNIX_EPOCH,
            off: None,
            hidden: Vec::new(),
            leapt: TimeDelta::zero(),
            clock_watch: ClockWatch::default(),
            stuck: Vec::new(),
            last_mail: None,
            glance: Glance::default(),
            writes: 0,
            last_entry: None,
        }
    }

    /// The store, to be read.
    pub(super) fn view(&self) -> &Solo {
        self.store.as_ref().expect("OK because it is only away while it is opened anew")
    }

    /// The store, to be written to.
    pub(super) fn store(&mut self) -> &mut Solo {
        self.glance = Glance::default();
        self.writes += 1;
        self.store.as_mut().expect("OK because it is only away while it is opened anew")
    }
}

impl World<'_> {
    /// A letter reaches the mailbox.
    pub(super) fn arrive(&mut self, raw: Vec<u8>) {
        let uid = u32::try_from(self.ledger.posted.len()).unwrap_or(u32::MAX) + 1;
        let came_at = self.now;
        self.ledger.posted.push(Posted { uid, raw, came_at, confirmed: false, inbox: None });
    }

    /// The service starts: what the last run left is put right, waiting mail is worked through,
    /// and only then what came due meanwhile.
    pub(super) fn start(&mut self) -> Result<(), Halt> {
        if self.station.is_up {
            return Ok(());
        }
        self.station.is_up = true;
        self.station.up_since = self.now;
        self.station.clock_watch = ClockWatch::default();
        self.station.runs += 1;
        self.tell(|| "the service starts".to_owned());
        let away = match self.commit("begins", None, waking::begin) {
            // The process ends; whoever watches over it starts it again.
            Err(Halt::Full) => {
                self.station.is_up = false;
                self.at(self.now + AFTER_FAILURE, Happening::Start);
                return Err(Halt::Full);
            }
            begun => begun?,
        };
        let away = self.live_on(away)?;
        if away {
            self.take_in_all()?;
            self.work_all()?;
        }
        let woke = self.commit("wakes", None, waking::wake)?;
        self.live_on(woke)?;
        self.station.has_woken = true;
        if let Some(by) = self.station.off.take().filter(|by| *by > TimeDelta::zero()) {
            self.station.hidden.push((self.now, by));
        }
        self.pump()
    }

    /// Does all that can be done now, then sets the timer.
    pub(super) fn pump(&mut self) -> Result<(), Halt> {
        if !self.station.is_up {
            return Ok(());
        }
        match self.work() {
            Err(Halt::Full) => {
                self.at(self.now + AFTER_FAILURE, Happening::Wake);
                Ok(())
            }
            other => other,
        }
    }

    fn work(&mut self) -> Result<(), Halt> {
        // As in the running service, whether or not anything seems due by what the clock shows.
        self.watch_clock()?;
        for _ in 0..ROUNDS_MAX {
            self.put_back_stuck()?;
            self.settle_heard()?;
            self.take_in_all()?;
            let worked = self.work_all()?;
            let acted = self.act_on_due()?;
            let sent = self.send()?;
            if !worked && !acted && !sent {
                return self.sleep();
            }
        }
        Err(turns_without_end("it finds more to do at the same instant"))
    }

    fn sleep(&mut self) -> Result<(), Halt> {
        let next_try = self.tries()?.map(|(next, _)| next);
        let next = self.due()?.into_iter().chain(next_try).min();
        let (skew, now) = (self.skew, self.service_now());
        if let Some(late) = next.filter(|at| *at <= now) {
            return Err(turns_without_end(&format!("what is due at {late} is not done")));
        }
        let Some(at) = next.map(|at| at - skew) else { return Ok(()) };
        if self.station.wakes_at.is_none_or(|set| set > at || set <= self.now) {
            self.station.wakes_at = Some(at);
            self.at(at, Happening::Wake);
        }
        Ok(())
    }

    /// When something is due, by the last look at it where that still holds.
    fn due(&mut self) -> Result<Option<Instant>, Halt> {
        let (seen, store) = (self.station.glance.due, self.station.view());
        let due = seen.map_or_else(|| store.read(|view| view.earliest_due()), Ok);
        let due = due.map_err(|error| Self::store_failed(&error))?;
        self.station.glance.due = Some(due);
        Ok(due)
    }

    /// When mail is to be tried next, and when the last of it, likewise.
    fn tries(&mut self) -> Result<Option<(Instant, Instant)>, Halt> {
        let look = |view: &View<'_>| {
            let Some(next) = view.next_try()? else { return Ok(None) };
            Ok::<_, StoreError>(Some((next, view.last_try()?.unwrap_or(next))))
        };
        let (seen, store) = (self.station.glance.tries, self.station.view());
        let tries = seen.map_or_else(|| store.read(look), Ok);
        let tries = tries.map_err(|error| Self::store_failed(&error))?;
        self.station.glance.tries = Some(tries);
        Ok(tries)
    }

    /// Whether received mail waits to be worked through, likewise.
    fn does_mail_wait(&mut self) -> Result<bool, Halt> {
        let (seen, store) = (self.station.glance.mail_waits, self.station.view());
        let waits = seen.map_or_else(|| store.read(|view| view.does_received_wait()), Ok);
        let waits = waits.map_err(|error| Self::store_failed(&error))?;
        self.station.glance.mail_waits = Some(waits);
        Ok(waits)
    }

    /// Stores what lies in the mailbox, all at once, and confirms it only then.
    fn take_in_all(&mut self) -> Result<(), Halt> {
        let waiting = (0..self.ledger.posted.len()).filter(|at| !self.ledger.posted[*at].confirmed);
        let burst: Vec<(usize, Placed)> = waiting
            .map(|index| {
                let posted = &self.ledger.posted[index];
                let mail = Arrived {
                    raw: posted.raw.clone(),
                    is_whole: true,
                    received_at: Some(posted.came_at),
                    lay_waiting: !self.station.has_woken,
                    mark: Some(MailboxMark { uid_validity: 1, uid: posted.uid }),
                };
                (index, Placed::new("clinic", mail))
            })
            .collect();
        if burst.is_empty() {
            return Ok(());
        }
        let taken = self.commit("takes mail in", None, |office, tx, now| {
            let each = burst.iter().map(|(_, placed)| taking::take_in(office, tx, placed, now));
            each.collect::<Result<Vec<_>, _>>()
        })?;
        for ((index, _), id) in burst.iter().zip(&taken.value) {
            let Some(id) = *id else { continue };
            let before = self.ledger.posted[*index].inbox.replace(id);
            if before.is_some() {
                let what = format!("letter {} was stored twice", index + 1);
                return Err(Halt::Broken(Broken::new(Promise::Replies, what)));
            }
        }
        self.live_on(taken)?;
        burst.iter().for_each(|(index, _)| self.ledger.posted[*index].confirmed = true);
        Ok(())
    }

    fn work_all(&mut self) -> Result<bool, Halt> {
        let mut any = false;
        loop {
            if !self.does_mail_wait()? {
                return Ok(any);
            }
            let taken = self.commit("begins a mail", None, |_, tx, _| {
                tx.take_received().map_err(ServiceError::from)
            })?;
            let Some(taken) = self.live_on(taken)? else { return Ok(any) };
            any = true;
            let number = super::letters::number_of(&taken.raw);
            let letter = letter::open(&taken.raw);
            let step = Some((number, taken.id));
            let worked = self.commit("works a mail through", step, |office, tx, now| {
                answers::work_through(office, tx, &taken, &letter, now)
            });
            match worked {
                Ok(worked) => self.live_on(worked)?,
                Err(Halt::Full) => {
                    self.station.stuck.push(taken);
                    self.put_back_stuck()?;
                    return Err(Halt::Full);
                }
                Err(other) => return Err(other),
            }
        }
    }

    /// Puts letters back that could not be worked through. Until that is done, nobody else would.
    fn put_back_stuck(&mut self) -> Result<(), Halt> {
        while let Some(taken) = self.station.stuck.last() {
            let id = taken.id;
            let back = self.commit("puts a mail back", None, |_, tx, _| {
                tx.put_received_back(id).map_err(ServiceError::from)
            })?;
            self.station.stuck.pop();
            self.live_on(back)?;
        }
        Ok(())
    }

    fn act_on_due(&mut self) -> Result<bool, Halt> {
        let now = self.service_now();
        if self.due()?.is_none_or(|due| due > now) {
            return Ok(false);
        }
        let acted = self.commit("acts on what is due", None, |office, tx, now| {
            due::act_on_due(office, tx, now)
        })?;
        let batch = self.live_on(acted)?;
        if let Some(stuck) = batch.stuck.first() {
            return Err(turns_without_end(&format!("follow-up {stuck} stays due")));
        }
        self.draw(&batch.undrawn)?;
        Ok(batch.follow_ups > 0)
    }

    fn send(&mut self) -> Result<bool, Halt> {
        let now = self.service_now();
        if sending::is_ahead(self.tries()?.map(|(_, last)| last), now) {
            let hastened = self.commit("brings mail forward", None, |_, tx, now| {
                sending::hasten(tx, now).map_err(ServiceError::from)
            })?;
            self.live_on(hastened)?;
        }
        if self.tries()?.is_none_or(|(next, _)| next > now) {
            return Ok(false);
        }
        let claimed = self.commit("claims mail", None, |_, tx, now| {
            tx.claim_mail(now, CLAIMED_MAX).map_err(ServiceError::from)
        })?;
        let claimed = self.live_on(claimed)?;
        let any = !claimed.is_empty();
        for mail in claimed {
            let outcome = self.offer(&mail).map_err(Halt::Broken)?;
            if self.strikes(Fault::CrashAfterSend, 4) {
                self.excuse(&mail);
                return self.crash("after a mail was handed over");
            }
            let heard = Heard { mail, outcome };
            if self.strikes(Fault::SlowServer, 15) {
                let wait = TimeDelta::seconds(self.dice.faults.between(20, 600));
                let run = self.station.runs;
                self.at(self.now + wait, Happening::Hear(run, Box::new(heard)));
            } else {
                self.station.unsettled.push(heard);
            }
        }
        self.settle_heard()?;
        Ok(any)
    }

    /// Writes down what servers said; what cannot be written down yet is kept in memory.
    fn settle_heard(&mut self) -> Result<(), Halt> {
        while let Some(heard) = self.station.unsettled.first().cloned() {
            let doing = match heard.outcome {
                Sent::Accepted { .. } => "notes that mail went",
                _ => "notes how a mail went",
            };
            let settled = self.commit(doing, None, |office, tx, now| {
                sending::settle_mail(office, tx, &heard.mail, &heard.outcome, now)
            })?;
            self.station.unsettled.remove(0);
            self.live_on(settled)?;
        }
        Ok(())
    }

    /// What a letter says, as a person would read it.
    pub(super) fn words_of(raw: &[u8]) -> String {
        letter::open(raw).words.trim().replace('\n', " / ")
    }
}

fn turns_without_end(how: &str) -> Halt {
    Halt::Broken(Broken::new(Promise::Working, format!("the service turns without end: {how}")))
}
