//! The command line as a clinic uses it: the real program on a temporary clinic whose mail goes
//! through maildirs.
//!
//! Never here: rules (the core's own tests), real mail servers.
//! Promises: each test has a clinic of its own.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

mod acting;
mod fitting;
mod keeping;
mod looking;
mod serving;
mod upkeep;
mod world;
