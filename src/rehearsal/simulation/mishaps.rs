//! What befalls the simulated service from outside: it is killed, its disk fills up, its plan's file
//! is edited, its clock is set.
//!
//! Never here: when it befalls it (`world`), mail servers (`servers`).
//! Promises: a killed process loses what it had in memory and nothing that it had committed.

use chrono::{Days, TimeDelta};

use super::cast;
use super::dice::Dice;
use super::fault::Fault;
use super::station::Glance;
use super::transactions::Halt;
use super::trial::Trial;
use super::world::{Happening, World, text};
use crate::follow_up::{Calendar, Instant};
use crate::store::{Fullness, RememberedInstant};

/// Trouble that comes once in a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mishap {
    /// The service ends without a word, and starts again after a while; after none, shortly before
    /// the next change of clocks.
    Kill(TimeDelta),
    /// The service's clock is set.
    SetClock(TimeDelta),
    /// The disk fills up for a while.
    Fill(TimeDelta),
    /// No mail server can be reached for a while.
    CutOff(TimeDelta),
    /// The plan file is edited.
    EditPlan,
}

/// The mishaps of a run: about each kind every ten days.
pub(super) fn planned(dice: &mut Dice, trial: Trial, begin: Instant) -> Vec<(Instant, Mishap)> {
    let days = i64::from(trial.days);
    let minutes = |dice: &mut Dice, least, most| TimeDelta::minutes(dice.between(least, most));
    let kinds = [
        Fault::ClockForward,
        Fault::ClockBack,
        Fault::Downtime,
        Fault::DiskFull,
        Fault::PlanEdited,
        Fault::Unreachable,
        Fault::LeapToClockChange,
    ];
    let mut planned = Vec::new();
    for fault in kinds {
        let times = if fault == Fault::LeapToClockChange {
            i64::from(dice.per_mille(150))
        } else {
            dice.between(0, (days / 5).max(1))
        };
        for _ in 0..times {
            let at = begin + minutes(dice, 60, (days * 24 * 60).max(61));
            let what = match fault {
                Fault::ClockForward => Mishap::SetClock(minutes(dice, 1, 180)),
                Fault::ClockBack => Mishap::SetClock(-minutes(dice, 1, 180)),
                Fault::Downtime => {
                    let most = if dice.per_mille(250) { 60 * 60 } else { 600 };
                    Mishap::Kill(minutes(dice, 3, most))
                }
                Fault::DiskFull => Mishap::Fill(minutes(dice, 5, 240)),
                Fault::Unreachable => Mishap::CutOff(minutes(dice, 10, 240)),
                Fault::LeapToClockChange => Mishap::Kill(TimeDelta::zero()),
                _ => Mishap::EditPlan,
            };
            if trial.faults.has(fault) {
                planned.push((at, what));
            }
        }
    }
    planned
}

/// How long the service stays off until shortly before the next change of clocks, where there is
/// one in the year.
pub(super) fn until_clock_change(calendar: &Calendar, now: Instant) -> Option<TimeDelta> {
    let today = calendar.date(now) + Days::new(3);
    let change = cast::next_clock_change(calendar, today)?;
    Some(calendar.midnight(change - Days::new(1)) - now)
}

impl World<'_> {
    /// Trouble comes.
    pub(super) fn befall(&mut self, mishap: Mishap) -> Result<(), Halt> {
        match mishap {
            Mishap::Kill(off) => self.kill(off, "is off"),
            Mishap::SetClock(by) => self.set_clock(by),
            Mishap::Fill(lasting) => self.fill(lasting),
            Mishap::CutOff(lasting) => {
                self.faults.count(Fault::Unreachable);
                self.tell(|| format!("no mail server can be reached for {}", text(lasting)));
                self.cut_off_until = Some(self.now + lasting);
            }
            Mishap::EditPlan => return self.edit_plan(),
        }
        Ok(())
    }

    pub(super) fn crash<T>(&mut self, doing: &'static str) -> Result<T, Halt> {
        let off = if self.dice.faults.per_mille(100) {
            TimeDelta::minutes(self.dice.faults.between(3, 60))
        } else {
            TimeDelta::seconds(self.dice.faults.between(1, 60))
        };
        self.tell(|| format!("the service crashes ({doing})"));
        self.kill_for(off);
        Err(Halt::Crashed)
    }

    /// The service is off for a while.
    pub(super) fn kill(&mut self, planned: TimeDelta, doing: &str) {
        if !self.station.is_up || self.calm {
            return;
        }
        let leaps = planned.is_zero();
        let fault = if leaps { Fault::LeapToClockChange } else { Fault::Downtime };
        self.faults.count(fault);
        let off = self.off_time(planned);
        self.tell(|| format!("the service {doing} for {}", text(off)));
        self.kill_for(off);
    }

    pub(super) fn kill_for(&mut self, off: TimeDelta) {
        // Signs of life are given from the waking on, so the last one is at most a minute old.
        if self.station.has_woken {
            let ago = TimeDelta::seconds(self.dice.faults.between(0, 60));
            // A step of the clock is written down before any later sign of life.
            let shown = self.station.clock_watch.before_steps(self.reading());
            let alive = (shown - ago).max(self.station.up_since + self.skew);
            let noted =
                self.station.store().write(|tx| tx.remember(RememberedInstant::LastAlive, alive));
            // On a full disk the sign of life may be older; that is no fault of the service.
            drop(noted);
        }
        // What was being sent may have gone or not; nobody knows any more.
        for heard in std::mem::take(&mut self.station.unsettled) {
            self.excuse(&heard.mail);
        }
        self.excuse_sending();
        self.station.stuck.clear();
        self.station.is_up = false;
        let reading = self.reading();
        let unwritten = self.station.clock_watch.before_steps(reading) - reading.shown;
        self.station.off.get_or_insert(unwritten.max(TimeDelta::zero()));
        self.station.has_woken = false;
        self.station.wakes_at = None;
        self.office.begin_anew(self.trial.seed ^ (self.station.runs << 20));
        self.station.glance = Glance::default();
        if let Some(store) = self.station.store.take() {
            let reopened = store.killed().expect("OK because it was open a moment ago");
            self.station.store = Some(reopened);
            if self.station.is_full {
                // A disk stays full over a restart.
                let limited = self.station.store().set_full(Fullness::NoPageLeft);
                limited.expect("OK because a limit can always be set");
            }
        }
        self.at(self.now + off, Happening::Start);
    }

    /// The disk fills up.
    pub(super) fn fill(&mut self, lasting: TimeDelta) {
        if self.calm || self.station.is_full {
            return;
        }
        self.faults.count(Fault::DiskFull);
        self.tell(|| format!("the disk is full for {}", text(lasting)));
        self.station.is_full = true;
        let limited = self.station.store().set_full(Fullness::NoPageLeft);
        limited.expect("OK because a limit can always be set");
        self.at(self.now + lasting, Happening::Empty);
    }

    /// There is room again.
    pub(super) fn empty(&mut self) -> Result<(), Halt> {
        if self.station.is_full {
            self.tell(|| "there is room on the disk again".to_owned());
            self.station.is_full = false;
            self.station.room_since = self.now;
            let lifted = self.station.store().set_full(Fullness::Room);
            lifted.map_err(|error| Self::store_failed(&error))?;
        }
        self.pump()
    }

    /// The plan's file is edited, and its new version comes into use for clients to come.
    pub(super) fn edit_plan(&mut self) -> Result<(), Halt> {
        if self.calm || self.station.is_full {
            return Ok(());
        }
        self.faults.count(Fault::PlanEdited);
        self.tell(|| "the plan's file is edited".to_owned());
        let plan = cast::plan(&mut self.dice.faults);
        let (version, now) = (crate::config::plan_version(&plan), self.service_now());
        let added = self.station.store().write(|tx| tx.add_plan(&version, &plan, now));
        added.map_err(|error| Self::store_failed(&error))
    }

    pub(super) fn set_clock(&mut self, by: TimeDelta) {
        if self.calm {
            return;
        }
        // Never further than three hours from the truth.
        let skew = (self.skew + by).clamp(-TimeDelta::hours(3), TimeDelta::hours(3));
        self.turn_clock_to(skew);
    }

    pub(super) fn turn_clock_to(&mut self, skew: TimeDelta) {
        let by = skew - self.skew;
        if by.is_zero() {
            return;
        }
        let back = by < TimeDelta::zero();
        if !self.calm {
            self.faults.count(if back { Fault::ClockBack } else { Fault::ClockForward });
        }
        let shown = text(by.abs());
        self.tell(|| format!("the clock is set {} by {shown}", if back { "back" } else { "on" }));
        self.skew = skew;
        if back {
            self.set_back = Some((self.now, by.abs()));
            self.was_set_back = true;
            if let Some(hidden) = &mut self.station.off {
                *hidden += by.abs();
            }
        }
        // The service looks at its clock again within a quarter of an hour.
        let wait = TimeDelta::minutes(self.dice.faults.between(0, 15));
        self.at(self.now + wait, Happening::Wake);
    }

    /// How long the service stays off when it is killed; a leap lasts until shortly before the
    /// next change of clocks.
    pub(super) fn off_time(&mut self, planned: TimeDelta) -> TimeDelta {
        if !planned.is_zero() {
            return planned;
        }
        let calendar = &self.ledger.clients[0].calendar;
        let Some(off) = until_clock_change(calendar, self.now) else {
            return TimeDelta::hours(2);
        };
        self.station.leapt += off;
        off
    }
}
