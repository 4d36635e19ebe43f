//! The store as the rest of the service meets it: on real files, through its public doors.
//!
//! Never here: clinic rules, mail servers.
//! Promises: each test has a data folder of its own.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

mod bell;
mod crash;
mod folder;
mod follow_ups;
mod journal;
mod mail;
mod sample;
