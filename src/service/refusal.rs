//! Why an act by hand is refused.
//!
//! Never here: names, addresses; who may do what (the edges check roles).
//! Promises: each says what stands against it.

use super::adopting::Misfit;
use crate::care::ContactId;
use crate::follow_up::{AgainstPause, StepNumber};

/// Why an act by hand is refused.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The follow-up cannot be paused.
    #[error("the follow-up cannot be paused: {0}")]
    Pause(AgainstPause),
    /// There is no pause to end.
    #[error("the follow-up is not paused")]
    NotPaused,
    /// The plan has no such step.
    #[error("the plan has no step {step}; its last is {last}")]
    NoSuchStep {
        /// The step that was named.
        step: StepNumber,
        /// The last step of the ladder.
        last: StepNumber,
    },
    /// The follow-up has ended.
    #[error("the follow-up has ended")]
    Closed,
    /// The follow-up tests this fitting already.
    #[error("the follow-up tests this fitting already: nothing in it has changed")]
    SameFitting,
    /// The fit is not ready to be tested.
    #[error(
        "the fit is not ready to begin (a clinician can begin all the same: --in-spite-of \
         \"REASON\" --by CLINICIAN):{}\nnext: {}",
        in_lines(.missing),
        .next.trim_end_matches('.')
    )]
    FitNotReady {
        /// What it lacks, in working order.
        missing: Vec<String>,
        /// What to try next.
        next: String,
    },
    /// The follow-up runs on the version already.
    #[error("the follow-up runs on this version already")]
    SamePlan,
    /// The plan does not fit the client.
    #[error("the plan does not fit this client: {}", listed(.0))]
    PlanDoesNotFit(Vec<Misfit>),
    /// The address is the service's own.
    #[error("this is the service's own address: requests would come back to itself")]
    OwnAddress,
    /// Another contact has the address.
    #[error("contact `{0}` has this address: an answer could not be told from theirs")]
    AddressTaken(ContactId),
}

fn in_lines(missing: &[String]) -> String {
    missing.iter().map(|lack| format!("\n  - {lack}")).collect()
}

fn listed(misfits: &[Misfit]) -> String {
    misfits.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}
