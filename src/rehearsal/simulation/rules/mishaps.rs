//! What befalls the service from outside: it is killed, its disk fills up, its plan is edited, its
//! clock is set.
//!
//! Never here: when it befalls it (`simulation::mishaps`).
//! Promises: a killed process loses its states, which are rebuilt from what was committed.

use chrono::TimeDelta;

use super::{Happening, Rules};
use crate::config::plan_version;
use crate::rehearsal::simulation::cast;
use crate::rehearsal::simulation::fault::Fault;
use crate::rehearsal::simulation::mishaps::{Mishap, until_clock_change};
use crate::rehearsal::simulation::transactions::Halt;
use crate::rehearsal::simulation::trial::Broken;
use crate::rehearsal::simulation::world::text;

impl Rules {
    /// Trouble comes.
    pub(super) fn befall(&mut self, mishap: Mishap) -> Result<(), Halt> {
        if self.calm {
            return Ok(());
        }
        match mishap {
            Mishap::Kill(planned) => return self.switch_off(planned).map_err(Halt::Broken),
            Mishap::SetClock(by) => {
                // Never further than three hours from the truth.
                let most = TimeDelta::hours(3);
                self.turn_clock_to((self.skew + by).clamp(-most, most));
            }
            Mishap::Fill(lasting) if !self.process.is_full => {
                self.faults.count(Fault::DiskFull);
                self.tell(|| format!("the disk is full for {}", text(lasting)));
                self.process.is_full = true;
                self.agenda.put(self.now + lasting, Happening::Empty);
            }
            Mishap::Fill(_) => {}
            Mishap::CutOff(lasting) => {
                self.faults.count(Fault::Unreachable);
                self.tell(|| format!("no mail server can be reached for {}", text(lasting)));
                self.cut_off_until = Some(self.now + lasting);
            }
            Mishap::EditPlan => {
                self.faults.count(Fault::PlanEdited);
                self.tell(|| "the plan's file is edited".to_owned());
                let plan = cast::plan(&mut self.troubles);
                self.shelf.insert(0, (plan_version(&plan), plan));
            }
        }
        Ok(())
    }

    fn switch_off(&mut self, planned: TimeDelta) -> Result<(), Broken> {
        if !self.process.is_up {
            return Ok(());
        }
        let leaps = planned.is_zero();
        self.faults.count(if leaps { Fault::LeapToClockChange } else { Fault::Downtime });
        let off = match until_clock_change(&self.ledger.clients[0].calendar, self.now) {
            Some(off) if leaps => {
                self.leapt += off;
                off
            }
            None if leaps => TimeDelta::hours(2),
            _ => planned,
        };
        self.tell(|| format!("the service is off for {}", text(off)));
        self.kill(off)
    }

    /// The process is killed in the middle of its work.
    pub(super) fn crash(&mut self, doing: &str) -> Result<(), Halt> {
        let off = if self.troubles.per_mille(100) {
            TimeDelta::minutes(self.troubles.between(3, 60))
        } else {
            TimeDelta::seconds(self.troubles.between(1, 60))
        };
        self.tell(|| format!("the service crashes ({doing})"));
        self.kill(off).map_err(Halt::Broken)?;
        Err(Halt::Crashed)
    }

    fn kill(&mut self, off: TimeDelta) -> Result<(), Broken> {
        let reading = self.reading();
        // A step of the clock is written down before any later sign of life.
        let shown = self.process.clock_watch.before_steps(reading);
        if self.process.has_woken && !self.process.is_full {
            let ago = TimeDelta::seconds(self.troubles.between(0, 60));
            self.process.last_alive = Some((shown - ago).max(self.process.up_since + self.skew));
        }
        self.process.is_up = false;
        self.process.has_woken = false;
        self.process.wakes_at = None;
        self.process.off.get_or_insert((shown - reading.shown).max(TimeDelta::zero()));
        self.agenda.put(self.now + off, Happening::Start);
        self.rebuild()
    }

    /// There is room on the disk again.
    pub(super) fn empty(&mut self) -> Result<(), Halt> {
        if self.process.is_full {
            self.tell(|| "there is room on the disk again".to_owned());
            self.process.is_full = false;
            self.process.room_since = self.now;
        }
        self.pump()
    }

    /// No more trouble from here on.
    pub(super) fn become_calm(&mut self) {
        self.tell(|| "calm from here on: no more trouble".to_owned());
        self.calm = true;
        self.turn_clock_to(TimeDelta::zero());
        self.cut_off_until = None;
        self.agenda.put(self.now, Happening::Empty);
        self.agenda.put(self.now, Happening::Start);
    }

    fn turn_clock_to(&mut self, skew: TimeDelta) {
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
            if let Some(hidden) = &mut self.process.off {
                *hidden += by.abs();
            }
        }
        // The service looks at its clock again within a quarter of an hour.
        let wait = TimeDelta::minutes(self.troubles.between(0, 15));
        self.agenda.put(self.now + wait, Happening::Look);
    }
}
