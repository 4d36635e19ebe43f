//! The same core under a virtual clock: a scenario run on paper.
//!
//! Never here: mail, the board, the real clock.
//! Promises: same scenario, same bytes; nothing is sent and nothing is stored.

mod lines;
mod run;
pub mod simulation;

pub use lines::json_line;
pub use run::{Rehearsal, rehearse};
