//! The store as the rest of the service meets it: on real files and on a real server, through its
//! public doors. What must hold on both is said once and run on both.
//!
//! Never here: clinic rules, mail servers.
//! Promises: each test has a store of its own.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]
#![allow(clippy::duplicate_mod, reason = "what holds on both databases is said once and run twice")]

mod bell;
mod bench;
mod folder;
mod in_a_file;
#[cfg(feature = "encryption")]
mod in_an_encrypted_file;
mod on_a_server;
mod sample;
#[path = "../server/mod.rs"]
mod server;
mod shared;
