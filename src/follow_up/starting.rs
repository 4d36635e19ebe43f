//! How sittings begin: at their time, early, moved, or taken up again (R2).
//!
//! Never here: what is found at their looks.
//! Promises: nothing begins while stopped, suspended or paused; a start never changes a look that was
//! answered or missed.

use chrono::{NaiveDate, NaiveTime};

use super::calendar::{Cursor, Instant, Slot};
use super::event::{DropReason, Event, LookKind, WithdrawReason};
use super::ids::SittingNumber;
use super::occasion::Target;
use super::replies::Said;
use super::state::{Course, LookStatus, Phase, State};
use super::turn::Turn;
use crate::care::{Ladder, Minutes};

impl State {
    /// The times of day at which sittings are planned on the present step: the first
    /// `sittings_per_day` of the client's times (R2). None in the routine phase.
    pub(super) fn sitting_times(&self, ladder: &Ladder) -> &[NaiveTime] {
        let Phase::BuildUp { step } = self.phase else { return &[] };
        let per_day = step
            .count()
            .checked_sub(1)
            .and_then(|index| ladder.steps.get(index as usize))
            .map_or(0, |step| step.sittings_per_day as usize);
        &self.terms.sittings_at[..per_day.min(self.terms.sittings_at.len())]
    }

    /// The next planned sitting, at or after an instant.
    pub(super) fn next_planned_sitting(&self, ladder: &Ladder, from: Instant) -> Option<Slot> {
        let cursor = Cursor { from: from.max(self.sitting_cursor.from), ..self.sitting_cursor };
        self.terms.zone.next_of(self.sitting_times(ladder), &cursor)
    }
}

impl Turn<'_> {
    /// R2: whether `started` begins the next sitting early, takes a cancelled one up again, or
    /// moves the start of the one it answers, in this order; false where it does none of these.
    pub(super) fn starts(&mut self, said: &Said<'_>, target: Option<Target>) -> bool {
        let start = self.stated_time(said);
        let on_hold = self.state.is_suspended() || self.state.is_paused();
        let first_look = match target {
            Some(Target::Look(id)) if self.look(id).kind == LookKind::First => Some(id),
            _ => None,
        };
        let sitting = match target {
            Some(Target::Announcement(sitting)) => Some(sitting),
            Some(Target::Look(_)) => first_look.and_then(|id| self.look(id).sitting),
            None => None,
        };
        if !on_hold && self.begins_early(start) {
            return true;
        }
        if let Some(number) = sitting
            && !on_hold
            && self.can_be_taken_up(number)
        {
            if let Some(look) = first_look {
                self.answered(said, look);
            }
            self.take_up(number, start);
            return true;
        }
        if let Some(number) = sitting
            && self.start_can_move(number)
        {
            if let Some(look) = first_look {
                self.answered(said, look);
            }
            self.move_start(number, start);
            return true;
        }
        false
    }

    /// The time that a reply states: the latest such wall-clock time not after it, if it lies
    /// within the last `tell_clinic_after` (inclusive); else the reply's arrival (R2, R10).
    pub(super) fn stated_time(&self, said: &Said<'_>) -> Instant {
        said.verdict
            .stated_at
            .map(|time| self.state.terms.zone.latest_not_after(time, self.now))
            .filter(|at| self.now - *at <= self.limits().tell_clinic_after.elapsed())
            .unwrap_or(self.now)
    }

    /// A sitting cancelled by `no-sitting`, on the local day of its start. One in which a mark was
    /// reported all the same is a sitting that a mark ended (R10), and nobody sits on a mark.
    fn can_be_taken_up(&self, number: SittingNumber) -> bool {
        let sitting = self.sitting(number);
        let zone = &self.state.terms.zone;
        let is_marked = sitting.looks.iter().any(|id| self.look(*id).kind == LookKind::Recheck);
        sitting.course == Course::Cancelled
            && !is_marked
            && zone.date(sitting.start) == zone.date(self.now)
    }

    fn take_up(&mut self, number: SittingNumber, start: Instant) {
        let sitting = self.sitting(number);
        let offsets = self
            .plan_step(sitting.step)
            .map_or_else(|| vec![sitting.sit], crate::care::Step::look_offsets);
        self.emit(Event::TakenUp { sitting: number, start, offsets });
        self.emit(Event::Started { sitting: number, start });
    }

    /// R2: begins the next planned sitting early, where `started` comes less than
    /// `tell_clinic_after` before it, while nothing is unsettled; not when the start it states
    /// lies before the last look was first asked.
    fn begins_early(&mut self, start: Instant) -> bool {
        let Some(slot) = self.state.next_planned_sitting(self.ladder(), self.now) else {
            return false;
        };
        let soon = slot.at - self.now < self.limits().tell_clinic_after.elapsed();
        let about_earlier = self.state.last_asked().is_some_and(|at| start < at);
        if !soon || about_earlier || self.state.is_anything_unsettled() {
            return false;
        }
        let number = self.begin((slot.date, slot.time), start);
        self.emit(Event::Started { sitting: number, start });
        true
    }

    /// Begins a sitting and announces it to the first contact.
    fn begin(&mut self, slot: (NaiveDate, NaiveTime), start: Instant) -> SittingNumber {
        let count = u32::try_from(self.state.sittings_count()).unwrap_or(u32::MAX);
        let sitting = SittingNumber::new(count + 1);
        let step = self.state.step().expect("OK because sittings are planned on steps only");
        let plan_step = self.plan_step(step).expect("OK because the state stays on the ladder");
        let (minutes, offsets) = (plan_step.sit, plan_step.look_offsets());
        let to = self.first_contact();
        self.emit(Event::Sitting { sitting, step, minutes, start, slot, to, offsets });
        sitting
    }

    /// R4: a planned sitting's time has come.
    pub(super) fn planned_sitting(&mut self, slot: Slot) {
        let step = self.state.step().expect("OK because sittings are planned on steps only");
        let rest = self.limits().rest_after_mark.elapsed();
        let resting = self.state.gone_at.is_some_and(|gone_at| self.now - gone_at < rest);
        let slot_key = (slot.date, slot.time);
        let why = if self.state.is_anything_unsettled() {
            DropReason::Unsettled
        } else if resting {
            DropReason::Resting
        } else {
            self.begin(slot_key, slot.at);
            return;
        };
        self.emit(Event::Dropped { step, why, slot: slot_key });
    }

    /// Whether no look of the sitting has been answered or missed, and it runs.
    fn start_can_move(&self, number: SittingNumber) -> bool {
        let sitting = self.sitting(number);
        let untouched =
            |look: &super::state::Look| look.found.is_none() && look.status != LookStatus::Missed;
        sitting.course == Course::Ran
            && !sitting.settled
            && sitting.looks.iter().all(|id| untouched(self.look(*id)))
    }

    /// R2: moves the start. A first look already asked is withdrawn if its new time is still
    /// ahead, and asked anew then with a fresh clock.
    fn move_start(&mut self, number: SittingNumber, start: Instant) {
        let sitting = self.sitting(number);
        let shift = start - sitting.start;
        let looks: Vec<_> = sitting
            .looks
            .iter()
            .map(|id| self.look(*id))
            .filter(|look| look.kind == LookKind::First && look.is_unsettled())
            .map(|look| (look.id, look.status, look.due + shift))
            .collect();
        self.emit(Event::Started { sitting: number, start });
        for (look, status, due) in looks {
            if status == LookStatus::Planned {
                self.emit(Event::LookMoved { look, due });
            } else if due > self.now {
                self.emit(Event::LookWithdrawn { look, why: WithdrawReason::Moved });
                self.emit(Event::LookPlanned {
                    look: self.state.next_look(),
                    kind: LookKind::First,
                    sitting: Some(number),
                    of: None,
                    due,
                });
            } else {
                self.emit(Event::LookMoved { look, due });
            }
        }
    }

    /// The minutes that a sitting lasts, from its start, are over.
    pub(super) fn is_over(&self, number: SittingNumber) -> bool {
        let sitting = self.sitting(number);
        sitting.start + Minutes::elapsed(sitting.sit) <= self.now
    }
}
