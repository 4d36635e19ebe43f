//! Another version of the plan comes into force for a running follow-up.
//!
//! Never here: whether the client's own times fit the new version (the edge refuses that before).
//! Promises: the step is kept as far as the new ladder reaches; the run starts again, since its
//! credits were earned by other rules; open looks keep the clocks that they were asked with.

use super::event::Event;
use super::ids::StepNumber;
use super::state::Phase;
use super::turn::Turn;
use crate::care::{ClinicianId, PlanVersion};

impl Turn<'_> {
    /// Adopts the version of the plan that is this turn's basis. A routine phase goes on where the
    /// new ladder has one; else the client is on its last step (R8).
    pub(super) fn adopt(&mut self, by: &ClinicianId, plan: &PlanVersion) {
        if self.state.is_closed() {
            return;
        }
        let ladder = self.ladder();
        let last = StepNumber::new(u32::try_from(ladder.steps.len()).unwrap_or(u32::MAX));
        let step = match self.state.phase {
            Phase::BuildUp { step } => Some(step.min(last)),
            Phase::Routine { .. } => ladder.routine.is_none().then_some(last),
        };
        self.emit(Event::PlanAdopted { by: by.clone(), plan: plan.clone(), step, last });
    }
}

#[cfg(test)]
mod tests;
