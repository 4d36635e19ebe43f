//! Mail out and in against real servers: Postfix and Dovecot on loopback.
//!
//! Never here: follow-ups.
//! Promises: tests tell their mails apart by mailbox or token, so all may run at once.

// A test that cannot go on had better stop right there.
#![allow(clippy::unwrap_used)]

#[path = "../peers/mod.rs"]
mod peers;

mod composing;
mod sending;
mod settings;
mod taking;
mod trouble;
