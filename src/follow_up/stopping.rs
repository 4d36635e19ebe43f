//! Stops, alerts and what clinicians decide (R21, R22, R23).
//!
//! Never here: which finding is a stop (`findings`).
//! Promises: every stop tells every contact; an alert ends only when a person takes it up; a stop
//! is lifted by a clinician only.

use chrono::TimeDelta;

use super::calendar::{Cursor, Instant};
use super::event::{AlertCause, AlertSending, AsideReason, Event, StopReason};
use super::ids::{AlertId, LookId, StepNumber};
use super::occasion::Answered;
use super::state::{Alert, Phase, Standing, State};
use super::terms::Basis;
use super::turn::Turn;
use crate::care::{ClinicianId, Reading, Site, StepChoice, Verdict};

impl State {
    /// When the alert is sent next (R22): repeated every `repeat_alert` and passed on every
    /// `pass_on_after`, both counted from when it was raised; acknowledged, it is brought back
    /// once a day until it is decided.
    pub(super) fn next_alert(&self, basis: &Basis<'_>) -> Option<Instant> {
        let alert = self.alert.as_ref()?;
        let stop = &basis.plan.stop;
        match &alert.acknowledged {
            None => {
                let repeat = next_multiple(alert, stop.repeat_alert.elapsed());
                let pass_on = pass_on_at(alert, basis);
                Some(pass_on.map_or(repeat, |pass_on| pass_on.min(repeat)))
            }
            Some((_, acknowledged_at)) => {
                let after = alert.last_sent.max(*acknowledged_at) + TimeDelta::seconds(1);
                let cursor = Cursor { from: after, handled: None };
                self.terms.zone.next_of(&[stop.bring_back_at], &cursor).map(|slot| slot.at)
            }
        }
    }
}

/// When an alert passes to the next on cover; with the one who is on cover alone it stays.
fn pass_on_at(alert: &Alert, basis: &Basis<'_>) -> Option<Instant> {
    let others = basis.cover.iter().any(|clinician| *clinician != alert.holder);
    others.then(|| next_multiple(alert, basis.plan.stop.pass_on_after.elapsed()))
}

/// The first multiple of a pace, counted from when the alert was raised, after it was last sent.
fn next_multiple(alert: &Alert, pace: TimeDelta) -> Instant {
    let pace_s = pace.num_seconds().max(1);
    let passed = (alert.last_sent - alert.raised_at).num_seconds().div_euclid(pace_s);
    alert.raised_at + TimeDelta::seconds((passed + 1) * pace_s)
}

impl Turn<'_> {
    /// R21: a stop. Any stop lifts a suspension first. `by` is the clinician who stops, if one does.
    pub(super) fn stop(
        &mut self,
        why: StopReason,
        sites: Vec<Site>,
        look: Option<LookId>,
        by: Option<ClinicianId>,
    ) {
        if self.state.is_suspended() {
            self.emit(Event::Unsuspended);
        }
        let step = self.step_or_last();
        self.emit(Event::Stopped { why, sites, step, look, by });
        for to in self.state.terms.contacts.clone() {
            self.emit(Event::ToldToStop { to });
        }
        // A clinician who stops has decided: nobody needs to be alerted (R23).
        if why != StopReason::Clinician {
            self.raise_alert(AlertCause::Stop);
        }
    }

    /// The present step; the routine phase counts as the last one.
    fn step_or_last(&self) -> StepNumber {
        match self.state.phase {
            Phase::BuildUp { step } => step,
            Phase::Routine { .. } => {
                StepNumber::new(u32::try_from(self.ladder().steps.len()).unwrap_or(u32::MAX))
            }
        }
    }

    pub(super) fn raise_alert(&mut self, cause: AlertCause) {
        let alert = AlertId::new(self.state.alerts + 1);
        let to = self.first_on_cover();
        let sending = AlertSending::Raised;
        self.emit(Event::Alerted { alert, cause, sending, to, again: 0 });
    }

    /// R22: an alert is due to be sent again, passed on, or brought back.
    pub(super) fn send_alert(&mut self) {
        let Some(alert) = self.state.alert.clone() else { return };
        let pass_on = pass_on_at(&alert, &self.basis);
        let (sending, to) = match &alert.acknowledged {
            Some((by, _)) => (AlertSending::BroughtBack, by.clone()),
            None if pass_on.is_some_and(|at| at <= self.now) => {
                (AlertSending::PassedOn, self.next_on_cover(&alert.holder))
            }
            None => (AlertSending::Repeated, alert.holder.clone()),
        };
        let again = alert.sent.get(&to).copied().unwrap_or(0);
        self.emit(Event::Alerted { alert: alert.id, cause: alert.cause, sending, to, again });
    }

    /// The next on cover, round and round; with one clinician it stays.
    fn next_on_cover(&self, holder: &ClinicianId) -> ClinicianId {
        let cover = self.basis.cover;
        let position = cover.iter().position(|clinician| clinician == holder);
        let next = position.map_or(0, |position| (position + 1) % cover.len().max(1));
        cover.get(next).unwrap_or(holder).clone()
    }

    /// What a clinician says (R22, R23). A caregiver's reading, or `unclear`, is set aside.
    pub(super) fn decision(
        &mut self,
        by: &ClinicianId,
        verdict: &Verdict,
        answers: Option<Answered>,
    ) {
        if self.state.is_closed() {
            return self.set_aside(by.as_str(), AsideReason::Closed);
        }
        if answers.is_some_and(|answers| self.is_overtaken(answers)) {
            return self.overtaken(by, verdict);
        }
        match verdict.reading {
            Reading::Automatic => {}
            Reading::Seen if self.is_alert_waiting() => self.acknowledge(by),
            Reading::Seen => self.set_aside(by.as_str(), AsideReason::NoOpenAlert),
            Reading::Resume => self.resume(by, verdict.step),
            Reading::KeepStopped => {
                self.acknowledge(by);
                if self.state.is_stopped() {
                    self.emit(Event::KeptStopped { by: by.clone() });
                } else {
                    self.stop_by(by, verdict);
                }
            }
            Reading::Close => {
                self.acknowledge(by);
                self.emit(Event::Closed { by: by.clone() });
            }
            _ => self.set_aside(by.as_str(), AsideReason::DoesNotFit),
        }
    }

    fn stop_by(&mut self, by: &ClinicianId, verdict: &Verdict) {
        self.stop(StopReason::Clinician, verdict.sites.clone(), None, Some(by.clone()));
    }

    /// Whether there is an alert or a stop that the reader of a mail was not told of by it.
    fn is_overtaken(&self, answers: Answered) -> bool {
        let newest = self.state.alert.as_ref().map(|alert| alert.id);
        match answers {
            Answered::Alert(alert) => {
                // Decided and gone, it belongs to its own stop.
                let of_an_earlier_stop = newest.is_none()
                    && self.state.is_stopped()
                    && alert.count() <= self.state.alerts_before_stop;
                alert.count() < self.state.alerts || of_an_earlier_stop
            }
            Answered::Notice { told_of } => newest.is_some() && newest > told_of,
        }
    }

    /// An answer to an earlier alert takes up, lifts and ends nothing of a newer one, which is
    /// shown to whoever answered. A stop is never too late.
    fn overtaken(&mut self, by: &ClinicianId, verdict: &Verdict) {
        match verdict.reading {
            Reading::Automatic => {}
            Reading::KeepStopped if !self.state.is_stopped() => self.stop_by(by, verdict),
            Reading::Seen | Reading::Resume | Reading::KeepStopped | Reading::Close => {
                self.show_alert(by);
                self.set_aside(by.as_str(), AsideReason::Overtaken);
            }
            _ => self.set_aside(by.as_str(), AsideReason::DoesNotFit),
        }
    }

    fn show_alert(&mut self, to: &ClinicianId) {
        let Some(alert) = &self.state.alert else { return };
        let again = alert.sent.get(to).copied().unwrap_or(0);
        let (alert, cause, to) = (alert.id, alert.cause, to.clone());
        self.emit(Event::Alerted { alert, cause, sending: AlertSending::Shown, to, again });
    }

    fn is_alert_waiting(&self) -> bool {
        self.state.alert.as_ref().is_some_and(|alert| alert.acknowledged.is_none())
    }

    /// A decision also acknowledges, unless somebody has already.
    fn acknowledge(&mut self, by: &ClinicianId) {
        if let Some(alert) = self.state.alert.as_ref().filter(|a| a.acknowledged.is_none()) {
            let alert = Some(alert.id);
            self.emit(Event::Acknowledged { by: by.clone(), alert });
        }
    }

    /// R23: `resume` goes to the step named, else `step_back` below the one stopped on; while
    /// suspended, to the step named, else the present one (R16).
    fn resume(&mut self, by: &ClinicianId, choice: Option<StepChoice>) {
        if self.state.is_paused() {
            return self.resume_paused(by, choice);
        }
        let unnamed = match self.state.standing {
            Standing::Stopped { step, .. } => {
                let back = self.basis.plan.stop.step_back;
                StepNumber::new(step.count().saturating_sub(back).max(1))
            }
            Standing::Suspended => self.step_or_last(),
            Standing::Open | Standing::Paused { .. } | Standing::Closed => {
                return self.set_aside(by.as_str(), AsideReason::NothingStopped);
            }
        };
        let Some(step) = self.chosen_step(choice, unnamed) else {
            return self.set_aside(by.as_str(), AsideReason::NoSuchStep);
        };
        let suspended = self.state.is_suspended();
        if !suspended {
            self.acknowledge(by);
        }
        self.emit(Event::Resumed { by: by.clone(), step });
        if suspended {
            self.emit(Event::Unsuspended);
        }
    }

    /// Said while paused, `resume` ends the pause: at the step named, else where the client was.
    fn resume_paused(&mut self, by: &ClinicianId, choice: Option<StepChoice>) {
        let Some(choice) = choice else { return self.unpause(by, None) };
        match self.chosen_step(Some(choice), StepNumber::new(1)) {
            Some(step) => self.unpause(by, Some(step)),
            None => self.set_aside(by.as_str(), AsideReason::NoSuchStep),
        }
    }

    /// The step that a clinician names, where it exists; by minutes, the lowest with that `sit`.
    fn chosen_step(&self, choice: Option<StepChoice>, unnamed: StepNumber) -> Option<StepNumber> {
        let steps = &self.ladder().steps;
        let last = u32::try_from(steps.len()).unwrap_or(u32::MAX);
        match choice {
            None => Some(StepNumber::new(unnamed.count().min(last))),
            Some(StepChoice::Step(number)) => {
                (1..=last).contains(&number).then(|| StepNumber::new(number))
            }
            Some(StepChoice::Minutes(minutes)) => (1..)
                .zip(steps)
                .find(|(_, step)| step.sit == minutes)
                .map(|(number, _)| StepNumber::new(number)),
        }
    }
}
