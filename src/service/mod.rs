//! The running process: what is due, what was said, what goes out, and the loops around them.
//!
//! Every act is a plain function of the store and an instant (`act`, `answers`, `due`,
//! `sending`); the `loops` only wait and call them. So the demo and the simulation run
//! the same acts under a clock of their own.
//!
//! Never here: rules (the core decides), wording, SQL.
//! Promises: one transaction holds what an occasion led to — entries, due time, mail; a reply is
//! stored before it is confirmed to the mail server.

pub mod act;
pub mod acts_by_hand;
pub mod adopting;
pub mod ahead;
pub mod answers;
pub mod at_hand;
pub mod backing_up;
pub mod clock;

pub mod covering;
pub mod daily;
pub mod data;
pub mod drawing;
pub mod due;
pub mod enrolling;
mod error;
mod keeping;
pub mod ledger;
pub mod limits;
pub mod lines;
mod loops;
pub mod mail_clock;
pub mod mailing;
pub mod office;
pub mod picturing;
pub mod pulse;
pub mod refitting;
pub mod refusal;
pub mod reviewing;
pub mod round_answers;
pub mod rounds;
pub mod secrets;
pub mod sending;
pub mod serve;
pub mod set_back;
mod shared;
pub mod standing;
pub mod taking;
pub mod telling;
pub mod waking;
pub mod watching;

pub use act::{Acted, act};
pub use clock::Clock;
pub use error::ServiceError;
pub use office::Office;
pub use refusal::Refusal;
pub use serve::{Beside, Service, serve};
pub use watching::Rhythm;
