//! The service's process: what it does one after the other, and that it may be killed in between.
//!
//! Never here: the acts themselves (`acts`).
//! Promises: as `service::serve`, `waking` and `set_back`: at a start what the clock shows is put
//! right, waiting mail is worked through, and only then what came due meanwhile (R26).

use chrono::TimeDelta;

use super::{Happening, Rules};
use crate::follow_up::{Instant, Noticed, Occasion};
use crate::rehearsal::simulation::fault::Fault;
use crate::rehearsal::simulation::transactions::Halt;
use crate::rehearsal::simulation::trial::{Broken, Promise};
use crate::service::clock::{ClockWatch, Reading, Step};
use crate::service::due::LATE_MAX;

/// The process, and what it has written down about itself.
#[derive(Debug, Default)]
pub(super) struct Process {
    pub(super) is_up: bool,
    /// Whether this run has woken up, and gives signs of life.
    pub(super) has_woken: bool,
    pub(super) up_since: Instant,
    /// When its timer runs out, by the world's clock.
    pub(super) wakes_at: Option<Instant>,
    pub(super) is_full: bool,
    /// Since when there is room.
    pub(super) room_since: Instant,
    /// Written down: when it last gave a sign of life.
    pub(super) last_alive: Option<Instant>,
    /// Written down: how far its clock is ahead of the mail server's at most, where any mail has
    /// told.
    pub(super) ahead_at_most: Option<TimeDelta>,
    /// While it is off: by how much the clock was set back since.
    pub(super) off: Option<TimeDelta>,
    /// When it started after such a step, and by how much.
    pub(super) hidden: Vec<(Instant, TimeDelta)>,
    pub(super) clock_watch: ClockWatch,
}

impl Rules {
    /// The service starts.
    pub(super) fn start(&mut self) -> Result<(), Halt> {
        if self.process.is_up {
            return Ok(());
        }
        if self.process.is_full {
            self.agenda.put(self.now + TimeDelta::minutes(1), Happening::Start);
            return Err(Halt::Full);
        }
        self.process.is_up = true;
        self.process.up_since = self.now;
        self.process.clock_watch = ClockWatch::default();
        self.tell(|| "the service starts".to_owned());
        self.commit("begins", Self::begin)?;
        let now = self.service_now();
        if self.process.last_alive.is_some_and(|alive| now - alive > LATE_MAX) {
            self.work_all()?;
        }
        self.commit("wakes", Self::wake)?;
        self.process.has_woken = true;
        if let Some(by) = self.process.off.take().filter(|by| *by > TimeDelta::zero()) {
            self.process.hidden.push((self.now, by));
        }
        self.pump()
    }

    /// Does all that can be done now, then sets the timer.
    pub(super) fn pump(&mut self) -> Result<(), Halt> {
        if !self.process.is_up {
            return Ok(());
        }
        if self.process.is_full {
            return Err(Halt::Full);
        }
        self.watch_clock()?;
        self.work_all()?;
        for client in 0..self.follow_ups.len() {
            self.act_on_due(client)?;
        }
        let next = self.follow_ups.iter().filter_map(|follow_up| follow_up.next_due).min();
        if let Some(late) = next.filter(|due| *due <= self.service_now()) {
            return Err(broken(format!("what is due at {late} is not done")));
        }
        self.process.wakes_at = next.map(|due| due - self.skew);
        Ok(())
    }

    fn work_all(&mut self) -> Result<(), Halt> {
        self.take_in_all();
        while let Some(letter) = self.inbox.front().cloned() {
            self.commit("works a letter through", |rules| {
                rules.work_through(&letter)?;
                rules.inbox.pop_front();
                Ok(())
            })?;
        }
        Ok(())
    }

    /// Dates what has come, as `service::mail_clock` does: the mail server's clock is the world's.
    fn take_in_all(&mut self) {
        let (now, lay_waiting) = (self.service_now(), !self.process.has_woken);
        for letter in self.inbox.iter_mut().filter(|letter| letter.dated.is_none()) {
            let known = self.process.ahead_at_most;
            let seen = (now - letter.came_at).max(TimeDelta::zero());
            if !lay_waiting && known.is_none_or(|known| seen < known) {
                self.process.ahead_at_most = Some(seen);
            }
            letter.dated = Some(known.map_or(now, |ahead| (letter.came_at + ahead).min(now)));
        }
    }

    fn may_be_ahead_by_more(&mut self, by: TimeDelta) {
        if let Some(known) = &mut self.process.ahead_at_most {
            *known += by.max(TimeDelta::zero());
        }
    }

    fn act_on_due(&mut self, client: usize) -> Result<(), Halt> {
        loop {
            let now = self.service_now();
            let Some(due) = self.follow_ups[client].next_due.filter(|due| *due <= now) else {
                return Ok(());
            };
            let at = if now - due <= LATE_MAX { due } else { now };
            self.commit("acts on what is due", |rules| {
                rules.act(client, &Occasion::Clock, at, None)
            })?;
            if self.follow_ups[client].next_due.is_some_and(|next| next <= due) {
                return Err(broken(format!("client {client} stays due at {due}")));
            }
        }
    }

    /// Puts right what a clock that was set back meanwhile makes of what was written.
    fn begin(&mut self) -> Result<(), Broken> {
        let now = self.service_now();
        let is_ahead = |at: &Instant| *at - now > LATE_MAX;
        let last_alive = self.process.last_alive.filter(is_ahead);
        for client in 0..self.follow_ups.len() {
            let last = self.follow_ups[client].journal.last().map(|entry| entry.at);
            let furthest = last.filter(is_ahead).max(last_alive);
            self.set_back(client, furthest, Noticed::AtStart)?;
        }
        if last_alive.is_some() {
            self.process.last_alive = Some(now);
        }
        Ok(())
    }

    fn set_back(
        &mut self,
        client: usize,
        instead_of: Option<Instant>,
        noticed: Noticed,
    ) -> Result<(), Broken> {
        let Some(instead_of) = instead_of.filter(|_| !self.follow_ups[client].state.is_closed())
        else {
            return Ok(());
        };
        let occasion = Occasion::ClockSetBack { instead_of, noticed };
        self.act(client, &occasion, self.service_now(), None)
    }

    /// Asks once for what came due while the service was away (R26).
    fn wake(&mut self) -> Result<(), Broken> {
        let now = self.service_now();
        let alive = self.process.last_alive.replace(now);
        if let Some(alive) = alive {
            self.may_be_ahead_by_more(now - alive);
        }
        let Some(away_since) = alive.filter(|alive| now - *alive > LATE_MAX) else {
            return Ok(());
        };
        for client in 0..self.follow_ups.len() {
            let due = self.follow_ups[client].next_due;
            if due.is_some_and(|due| due <= now - LATE_MAX) {
                self.act(client, &Occasion::Awoke { away_since }, now, None)?;
            }
        }
        Ok(())
    }

    /// Looks at the clock, as the service does before each transaction.
    fn watch_clock(&mut self) -> Result<(), Halt> {
        let reading = self.reading();
        while let Some(step) = self.process.clock_watch.step(reading) {
            if let Step::Back { instead_of } = step {
                self.transact("notes that the clock was set back", |rules| {
                    for client in 0..rules.follow_ups.len() {
                        rules.set_back(client, Some(instead_of), Noticed::AtOnce)?;
                    }
                    rules.process.last_alive = Some(rules.service_now());
                    Ok(())
                })?;
                self.set_back = None;
            }
            if let Step::On { by } = step {
                self.may_be_ahead_by_more(by);
            }
            self.process.clock_watch.settled(step, reading);
        }
        Ok(())
    }

    /// The world's time is the steady clock.
    pub(super) fn reading(&self) -> Reading {
        Reading { shown: self.service_now(), steady: self.now - Instant::UNIX_EPOCH }
    }

    fn commit(
        &mut self,
        doing: &str,
        work: impl FnOnce(&mut Self) -> Result<(), Broken>,
    ) -> Result<(), Halt> {
        self.watch_clock()?;
        self.transact(doing, work)
    }

    /// One transaction, before or after which the process may be killed. One that is not committed
    /// leaves nothing behind, since the state is rebuilt: so it need not be begun.
    fn transact(
        &mut self,
        doing: &str,
        work: impl FnOnce(&mut Self) -> Result<(), Broken>,
    ) -> Result<(), Halt> {
        let crash_before = self.strikes(Fault::CrashBeforeCommit, 3);
        let crash_after = self.strikes(Fault::CrashAfterCommit, 3);
        if crash_before {
            return self.crash(doing);
        }
        work(self).map_err(Halt::Broken)?;
        if crash_after { self.crash("after a commit") } else { Ok(()) }
    }
}

fn broken(what: String) -> Halt {
    Halt::Broken(Broken::new(Promise::Working, what))
}
