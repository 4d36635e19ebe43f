//! What a local midnight decides: advance, hold, routine phase, reviews (R7, R8, R9).
//!
//! Never here: what a sitting earns.
//! Promises: no advance while anything is unsettled, none without the run that earns it.

use chrono::{Days, NaiveDate};

use super::calendar::Instant;
use super::event::{Event, TellDetail, TellReason};
use super::ids::StepNumber;
use super::state::{Phase, Standing, State};
use super::trend::{self, ExactMinutes, Point};
use super::turn::Turn;
use crate::care::{Ladder, Step};

impl State {
    /// The local midnight at which an advance is to be decided, where the run stands (R7, R8).
    pub(super) fn midnight_to_decide(&self, ladder: &Ladder) -> Option<(NaiveDate, Instant)> {
        let Phase::BuildUp { step } = self.phase else { return None };
        let plan_step = ladder.steps.get(step.count() as usize - 1)?;
        let leads_on = (step.count() as usize) < ladder.steps.len() || ladder.routine.is_some();
        let stands = self.run.credits >= plan_step.clear_to_advance;
        let open = matches!(self.standing, Standing::Open | Standing::Suspended);
        if !leads_on || !stands || !open {
            return None;
        }
        let zone = &self.terms.zone;
        let first = zone.midnight_from(self.run.last_credit_at?);
        match self.midnight_decided {
            Some(decided) if decided >= first.0 => {
                let next = decided + Days::new(1);
                Some((next, zone.midnight(next)))
            }
            _ => Some(first),
        }
    }

    /// The next review of the routine phase, by its day (R8). Reviews go on while stopped.
    pub(super) fn next_review(&self, ladder: &Ladder) -> Option<(u32, Instant)> {
        let Phase::Routine { began, reviewed } = &self.phase else { return None };
        if self.is_closed() {
            return None;
        }
        let days = &ladder.routine.as_ref()?.review_after_days;
        let day = days.iter().find(|day| !reviewed.contains(day))?;
        let date = began.checked_add_days(Days::new(u64::from(*day)))?;
        Some((*day, self.terms.zone.midnight(date)))
    }
}

impl Turn<'_> {
    /// R7, R8, R9: a local midnight at which the run stands.
    pub(super) fn midnight(&mut self, date: NaiveDate) {
        if self.state.is_anything_unsettled() {
            return self.emit(Event::MidnightPassed { date });
        }
        let step = self.state.step().expect("OK because a midnight is decided on steps only");
        let next = StepNumber::new(step.count() + 1);
        match self.plan_step(next) {
            None => self.emit(Event::Routine { date }),
            Some(next_step) => match self.projection_over_limit(next_step) {
                None => self.emit(Event::Advanced { step: next, date }),
                Some(expect) => {
                    let expect_tenths = trend::tenths(expect);
                    self.emit(Event::Held { step, expect_tenths, date });
                    let at_sit = next_step.sit;
                    let detail = TellDetail::Projection { expect_tenths, at_sit };
                    self.tell(TellReason::Projection, detail);
                }
            },
        }
    }

    /// R19: the fade time to expect at a step, where it is strictly above the fade limit.
    fn projection_over_limit(&self, step: &Step) -> Option<ExactMinutes> {
        let limit = ExactMinutes::from_integer(i128::from(self.limits().fade_limit.count()));
        let points: Vec<Point> = self.state.points().map(|(_, point)| point).collect();
        trend::expected_fade(&points, step.sit.count()).filter(|expect| *expect > limit)
    }
}
