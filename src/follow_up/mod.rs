//! The core: one client on one seat under one version of a plan, from enrolment to closing.
//!
//! `decide(state, basis, occasion, now) → entries`, `State::apply(entry)`,
//! `next_due(state, basis) → instant`. The same core runs the service, the rehearsal, the demo and
//! the simulation. Rules are numbered as in the docstrings, R1–R29; what was decided where their
//! text leaves a choice open stands in [`rulings`].
//!
//! Never here: clocks, I/O, randomness, async, SQL, wording, logging.
//! Promises: the answer depends only on the arguments; all state comes from applied entries;
//! silence, doubt and failure are never read as 'all clear'.

mod adopting;
mod apply;
mod asking;
pub mod calendar;
mod decide;
mod due;
pub mod event;
mod findings;
pub mod ids;
mod ladder;
pub mod occasion;
pub mod past;
mod pausing;
mod replies;
mod routing;
pub mod rulings;
mod set_back;
mod settling;
mod shifts;
#[cfg(test)]
mod stage;
mod starting;
pub mod state;
mod stopping;
mod stored;
pub mod terms;
pub mod trend;
mod turn;

pub use calendar::{Calendar, Instant, QuietHours};
pub use due::Due;
pub use event::{Entry, Event, PauseReason};
pub use ids::{AlertId, LookId, SittingNumber, StepNumber};
pub use occasion::{Aim, Answered, Noticed, Occasion, Target, TargetKind};
pub use pausing::AgainstPause;
pub use state::State;
pub use terms::{Basis, Terms};
