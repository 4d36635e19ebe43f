//! What is due, and when the next thing will be.
//!
//! Things of one instant happen in this order: waits that run out (missed, unreported rechecks,
//! asking again, alerts), the local midnight (advance, then reviews), routine looks, rechecks,
//! first looks, sittings.
//!
//! Never here: what happens when something is due.
//! Promises: the next due time is never before something that is already due was acted on.

use chrono::{NaiveDate, NaiveTime};

use super::calendar::{Cursor, Instant, Slot};
use super::event::LookKind;
use super::ids::LookId;
use super::state::{LookStatus, Phase, State};
use super::terms::Basis;
use crate::care::Ladder;

/// Something whose time has come or will come; in the order in which one instant takes them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Due {
    /// A look is missed (R15).
    Miss(LookId),
    /// Nobody has reported on a mark (R12).
    RecheckUnreported(LookId),
    /// A look is asked again, or of the next contact (R14).
    AskAgain(LookId),
    /// An alert is sent again, passed on or brought back (R22).
    Alert,
    /// A local midnight decides about the next step (R7).
    Midnight(NaiveDate),
    /// A review by a clinician, so many days into the routine phase (R8).
    Review(u32),
    /// A routine look (R3, R8).
    RoutineLook(Slot),
    /// A look is asked for the first time.
    AskFirst(LookId),
    /// A planned sitting (R2).
    Sitting(Slot),
}

impl State {
    /// When something is due next; never, for a follow-up that has ended.
    pub fn next_due(&self, basis: &Basis<'_>) -> Option<Instant> {
        if self.is_closed() {
            return None;
        }
        let ladder = basis.ladder(&self.terms);
        let looks = self.unsettled_looks().filter_map(|look| {
            let over_at = look.clock.as_ref().map(|clock| clock.over_at);
            match look.status {
                LookStatus::Planned => Some(look.due),
                _ => [over_at, self.asked_again_at(look)].into_iter().flatten().min(),
            }
        });
        let decided = [
            self.next_alert(basis),
            self.midnight_to_decide(ladder).map(|(_, at)| at),
            self.next_review(ladder).map(|(_, at)| at),
            self.next_routine_look(ladder).map(|slot| slot.at),
            self.due_planned_sitting(ladder).map(|slot| slot.at),
        ];
        looks.chain(decided.into_iter().flatten()).min()
    }

    /// What is due next, and when.
    pub fn coming(&self, basis: &Basis<'_>) -> Option<(Instant, Due)> {
        let at = self.next_due(basis)?;
        self.first_due(basis, at).map(|due| (at, due))
    }

    /// What is due at or before an instant, the first in order.
    pub(super) fn first_due(&self, basis: &Basis<'_>, now: Instant) -> Option<Due> {
        if self.is_closed() {
            return None;
        }
        let ladder = basis.ladder(&self.terms);
        let over = self.overdue_look(|over_at| over_at <= now).map(|(id, kind)| match kind {
            LookKind::Recheck => Due::RecheckUnreported(id),
            LookKind::First | LookKind::Routine => Due::Miss(id),
        });
        over.or_else(|| self.look_to_ask_again(now).map(Due::AskAgain))
            .or_else(|| self.next_alert(basis).filter(|at| *at <= now).map(|_| Due::Alert))
            .or_else(|| {
                let (date, at) = self.midnight_to_decide(ladder)?;
                (at <= now).then_some(Due::Midnight(date))
            })
            .or_else(|| {
                let (day, at) = self.next_review(ladder)?;
                (at <= now).then_some(Due::Review(day))
            })
            .or_else(|| {
                self.next_routine_look(ladder).filter(|slot| slot.at <= now).map(Due::RoutineLook)
            })
            .or_else(|| self.look_to_ask(LookKind::Routine, now).map(Due::AskFirst))
            .or_else(|| self.look_to_ask(LookKind::Recheck, now).map(Due::AskFirst))
            .or_else(|| self.look_to_ask(LookKind::First, now).map(Due::AskFirst))
            .or_else(|| {
                self.due_planned_sitting(ladder).filter(|slot| slot.at <= now).map(Due::Sitting)
            })
    }

    /// The open look whose time is over: first and routine looks before rechecks, each the
    /// oldest first.
    pub(super) fn overdue_look(
        &self,
        is_over: impl Fn(Instant) -> bool,
    ) -> Option<(LookId, LookKind)> {
        self.unsettled_looks()
            .filter_map(|look| {
                look.clock.as_ref().filter(|clock| is_over(clock.over_at))?;
                let recheck = look.kind == LookKind::Recheck;
                Some(((recheck, look.first_order(), look.id), look.kind))
            })
            .min_by_key(|(order, _)| *order)
            .map(|((_, _, id), kind)| (id, kind))
    }

    fn look_to_ask_again(&self, now: Instant) -> Option<LookId> {
        self.unsettled_looks()
            .filter(|look| self.asked_again_at(look).is_some_and(|at| at <= now))
            .min_by_key(|look| look.first_order())
            .map(|look| look.id)
    }

    fn look_to_ask(&self, kind: LookKind, now: Instant) -> Option<LookId> {
        self.unsettled_looks()
            .filter(|look| look.kind == kind && look.status == LookStatus::Planned)
            .filter(|look| look.due <= now)
            .min_by_key(|look| (look.due, look.id))
            .map(|look| look.id)
    }

    /// The times of the routine looks in the present phase (R3, R8); none while stopped or paused.
    fn routine_times<'l>(&self, ladder: &'l Ladder) -> &'l [NaiveTime] {
        if self.is_stopped() || self.is_paused() {
            return &[];
        }
        match (&self.phase, &ladder.routine) {
            (Phase::BuildUp { .. }, _) => &ladder.look_at,
            (Phase::Routine { .. }, Some(routine)) => &routine.look_at,
            (Phase::Routine { .. }, None) => &[],
        }
    }

    /// The next routine look.
    pub(super) fn next_routine_look(&self, ladder: &Ladder) -> Option<Slot> {
        self.terms.zone.next_of(self.routine_times(ladder), &self.routine_cursor)
    }

    /// The routine look that follows one.
    pub(super) fn routine_look_after(&self, ladder: &Ladder, slot: Slot) -> Option<Slot> {
        let cursor = Cursor { from: slot.at, handled: Some((slot.date, slot.time)) };
        self.terms.zone.next_of(self.routine_times(ladder), &cursor)
    }

    /// The next planned sitting, while sitting goes on.
    pub(super) fn due_planned_sitting(&self, ladder: &Ladder) -> Option<Slot> {
        if self.is_stopped() || self.is_suspended() || self.is_paused() {
            return None;
        }
        self.next_planned_sitting(ladder, self.sitting_cursor.from)
    }

    /// The planned sitting that follows one.
    pub(super) fn sitting_after(&self, ladder: &Ladder, slot: Slot) -> Option<Slot> {
        let cursor = Cursor { from: slot.at, handled: Some((slot.date, slot.time)) };
        self.terms.zone.next_of(self.sitting_times(ladder), &cursor)
    }
}
