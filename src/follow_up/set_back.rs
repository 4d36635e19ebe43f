//! What becomes of waits when the machine's clock is set back (R22, R26).
//!
//! Waits are elapsed time: an alert that is due again in ten minutes is due in ten minutes by
//! whatever the clock shows then. Times of day are wall-clock times: they go by the new reading,
//! and none that was worked through comes a second time.
//!
//! Never here: how it is noticed.
//! Promises: nothing comes later for a clock that was set back; nothing that has happened lies
//! ahead of what the clock shows.

use chrono::TimeDelta;

use super::calendar::Instant;
use super::event::{AlertSending, Event, LookKind};
use super::ids::LookId;
use super::occasion::Noticed;
use super::state::{Alert, Look, LookStatus, Standing, State};
use super::turn::Turn;

impl Turn<'_> {
    /// The clock was set back. Where nobody knows how long the service was away beside, an alert
    /// that waits goes out at once, and marks are asked about at once.
    pub(super) fn clock_set_back(&mut self, instead_of: Instant, noticed: Noticed) {
        if self.state.is_closed() || instead_of <= self.now {
            return;
        }
        self.emit(Event::ClockSetBack { instead_of });
        match noticed {
            Noticed::AtOnce => {}
            Noticed::AtStart => {
                self.repeat_waiting_alert();
                self.ask_open_rechecks();
            }
        }
    }

    fn repeat_waiting_alert(&mut self) {
        let Some(alert) = self.state.alert.as_ref().filter(|a| a.acknowledged.is_none()) else {
            return;
        };
        let to = alert.holder.clone();
        let again = alert.sent.get(&to).copied().unwrap_or(0);
        let (alert, cause, sending) = (alert.id, alert.cause, AlertSending::Repeated);
        self.emit(Event::Alerted { alert, cause, sending, to, again });
    }

    fn ask_open_rechecks(&mut self) {
        let open = self
            .state
            .unsettled_looks()
            .filter(|look| look.kind == LookKind::Recheck && look.status == LookStatus::Open)
            .map(|look| look.id);
        for look in open.collect::<Vec<LookId>>() {
            self.ask_again(look);
        }
    }
}

impl State {
    /// Moves what waits by as much as the clock was set back, and what has happened to the present
    /// where it would lie ahead.
    pub(super) fn set_back(&mut self, instead_of: Instant, now: Instant) {
        let by = instead_of - now;
        if let Some(alert) = &mut self.alert {
            alert.set_back(by);
        }
        self.take_all_back();
        let is_unsettled: Vec<bool> = self.recent_looks.iter().map(Look::is_unsettled).collect();
        let waits = |id: &LookId| is_unsettled[id.count() as usize - 1];
        for sitting in &mut self.recent_sittings {
            if sitting.looks.iter().any(waits) {
                sitting.start -= by;
                sitting.announcement.at -= by;
            }
            not_ahead(&mut sitting.start, now);
            not_ahead(&mut sitting.announcement.at, now);
        }
        for look in &mut self.recent_looks {
            let is_rechecked = look.recheck.as_ref().is_some_and(waits);
            look.set_back(by, now, is_rechecked);
        }
        if let Some(gone_at) = &mut self.gone_at {
            *gone_at -= by;
        }
        if let Some(credit_at) = &mut self.run.last_credit_at {
            not_ahead(credit_at, now);
        }
        match &mut self.standing {
            Standing::Stopped { since, .. } | Standing::Paused { since, .. } => {
                not_ahead(since, now);
            }
            Standing::Open | Standing::Suspended | Standing::Closed => {}
        }
        not_ahead(&mut self.sitting_cursor.from, now);
        not_ahead(&mut self.routine_cursor.from, now);
    }
}

impl Alert {
    fn set_back(&mut self, by: TimeDelta) {
        self.raised_at -= by;
        self.last_sent -= by;
        if let Some((_, at)) = &mut self.acknowledged {
            *at -= by;
        }
    }
}

impl Look {
    fn set_back(&mut self, by: TimeDelta, now: Instant, is_rechecked: bool) {
        // A routine look that waits to be asked waits for a time of day (R24).
        let waits_for_morning = self.kind == LookKind::Routine;
        match self.status {
            LookStatus::Planned if !waits_for_morning => self.due -= by,
            LookStatus::Open => {
                if let Some(clock) = &mut self.clock {
                    clock.first_asked -= by;
                    clock.over_at -= by;
                    clock.wait_until = clock.wait_until.map(|until| until - by);
                }
            }
            LookStatus::Planned
            | LookStatus::Answered
            | LookStatus::Missed
            | LookStatus::Withdrawn { .. } => {}
        }
        if let Some(found) = &mut self.found {
            // The time that a mark takes to fade is counted from here.
            if is_rechecked {
                found.looked_at -= by;
                found.said_at -= by;
            }
            not_ahead(&mut found.looked_at, now);
            not_ahead(&mut found.said_at, now);
        }
        if let Some(settled_at) = &mut self.settled_at {
            not_ahead(settled_at, now);
        }
    }
}

/// What has happened cannot lie ahead.
fn not_ahead(at: &mut Instant, now: Instant) {
    *at = now.min(*at);
}
