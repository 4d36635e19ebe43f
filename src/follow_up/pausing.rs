//! Pauses: a hospital stay, a holiday.
//!
//! While paused no sitting begins and no look is asked, but for marks that somebody reports: those
//! are taken as ever (R29), looked at again (R10) and may stop sitting (R11).
//!
//! Never here: stops and suspensions.
//! Promises: a mark that is not settled, and a stop, cannot be paused away; only a clinician ends
//! a pause; the run starts again after it.

use super::event::{Event, LookKind, NoCreditReason, PauseReason, WithdrawReason};
use super::ids::{LookId, SittingNumber, StepNumber};
use super::state::{Course, LookStatus, Sitting, Standing, State};
use super::turn::Turn;
use crate::care::ClinicianId;

/// Why a follow-up cannot be paused.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AgainstPause {
    /// Sitting is stopped.
    #[error("sitting is stopped; a clinician has to decide first")]
    Stopped,
    /// A mark was reported and nobody has said yet that it has gone.
    #[error("a mark is not settled; somebody has to look at it again first")]
    MarkUnsettled,
    /// It is paused already.
    #[error("it is paused already")]
    Paused,
    /// The follow-up has ended.
    #[error("the follow-up has ended")]
    Closed,
}

impl State {
    /// Why the follow-up cannot be paused, if it cannot.
    pub fn against_pause(&self) -> Option<AgainstPause> {
        let unsettled_mark = || self.unsettled_looks().any(|look| look.kind == LookKind::Recheck);
        match self.standing {
            Standing::Stopped { .. } => Some(AgainstPause::Stopped),
            Standing::Paused { .. } => Some(AgainstPause::Paused),
            Standing::Closed => Some(AgainstPause::Closed),
            Standing::Open | Standing::Suspended => {
                unsettled_mark().then_some(AgainstPause::MarkUnsettled)
            }
        }
    }
}

impl Turn<'_> {
    /// Pauses. Open and planned looks are withdrawn; the sittings they belong to did not take
    /// place, unless a look of theirs was missed.
    pub(super) fn pause(&mut self, by: &ClinicianId, why: PauseReason) {
        if self.state.against_pause().is_some() {
            return;
        }
        self.emit(Event::Paused { by: by.clone(), why });
        let waiting: Vec<LookId> = self.state.unsettled_looks().map(|look| look.id).collect();
        for look in waiting {
            self.emit(Event::LookWithdrawn { look, why: WithdrawReason::Paused });
        }
        let sittings =
            self.state.recent_sittings.iter().filter(|sitting| self.is_called_off(sitting));
        let called_off: Vec<SittingNumber> = sittings.map(|sitting| sitting.number).collect();
        for sitting in called_off {
            let why = NoCreditReason::NoSitting;
            self.emit(Event::NoCredit { sitting, why, fade: None });
        }
        self.settle_sittings();
    }

    fn is_called_off(&self, sitting: &Sitting) -> bool {
        let mut looks = sitting.looks.iter().map(|id| self.look(*id));
        !sitting.settled
            && sitting.course == Course::Ran
            && looks.all(|look| look.status != LookStatus::Missed)
    }

    /// Ends a pause.
    pub(super) fn unpause(&mut self, by: &ClinicianId, step: Option<StepNumber>) {
        let exists = |step: &StepNumber| self.plan_step(*step).is_some();
        if self.state.is_paused() && step.as_ref().is_none_or(exists) {
            let step = step.or(self.state.step());
            self.emit(Event::Unpaused { by: by.clone(), step });
        }
    }
}

#[cfg(test)]
mod tests;
