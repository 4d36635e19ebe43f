//! The command line as a clinic uses it: the real program on a temporary clinic whose mail goes
//! through maildirs.
//!
//! Never here: rules (the core's own tests); real mail servers but for the trial of an account.
//! Promises: each test has a clinic of its own.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

#[path = "../peers/mod.rs"]
mod peers;

#[path = "../python/mod.rs"]
mod python;

mod acting;
mod covering;
mod exporting;
mod fitting;
mod keeping;
mod looking;
mod serving;
mod setup;
mod style;
mod upkeep;
mod world;
