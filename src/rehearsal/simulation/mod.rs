//! The service under a virtual clock, at two depths, with people, mail servers and faults drawn from one
//! seed, and the promises of the design held against the simulation's own record.
//!
//! At the whole depth the store, the core, the outbox, the inbox, the notices and the reply reader are the real ones;
//! only the loops around them (`service::serve`) are played here, so that each step can be the
//! last one before a crash. At the depth of the rules alone (`rules`) there is the core and nothing
//! around it, and people answer in readings; it goes through many more days in the same time.
//!
//! Never here: the real clock, sockets, threads within a run.
//! Promises: the same trial runs the same way on every machine; a checker never trusts the code
//! that it checks.

mod agenda;
mod campaign;
mod cast;
mod checks;
mod dice;
mod fault;
mod ledger;
mod letters;
mod minds;
mod mishaps;
mod people;
mod phrases;
mod rules;
mod servers;
mod shrink;
mod station;
mod transactions;
mod trial;
mod world;

pub use campaign::{Campaign, Offices, SoFar, Tally, run_one};
pub use fault::{Fault, FaultCounts, Faults, UnknownFault};
pub use shrink::{Shrunk, shrink};
pub use trial::{Broken, Depth, Medium, Outcome, Promise, Trial, UnknownDepth};
