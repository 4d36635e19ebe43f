//! The loops of the running service, one to a file; each only waits and calls plain acts.
//!
//! ```text
//! mailbox ─▶ taking_in ─▶ inbox ─▶ acting ─▶ outbox ─▶ sending_out ─▶ mail server
//!                         due times ──▲  ▲── bell (other processes)
//! ```
//!
//! Never here: what any act does.
//! Promises: nothing polls: each loop sleeps until its next due time, a bell or the stop signal. (While mail
//! comes the inbox asks the mail server for more; at rest it waits to be told.)

mod acting;
mod sending_out;
mod taking_in;

pub(super) use acting::acting;
pub(super) use sending_out::send_out;
pub(super) use taking_in::take_in;
