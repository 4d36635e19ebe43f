//! The board over real HTTP, against the real service of an invented clinic whose mail goes through
//! maildirs.
//!
//! To look at the board yourself, or to drive it with a browser, there are two ways:
//!
//! - `fadewatch demo --seconds 0 --board 8470` plays the demonstration, then holds its clock with one
//!   client stopped, one suspended, some asked, and prints a sign-in link for a clinician, an
//!   assistant and an observer. Open the link, press its button. Everything that the board does is
//!   real there; replies are not written any more.
//! - in a test: `Clinic::busy()` (A7 stopped with an open alert, B2 asked and silent, C3 building up,
//!   D4 ended) starts `fadewatch serve` with a board on a free port of loopback;
//!   `clinic.sign_in("seating")` gives a `Browser` that is signed in by a link out of that person's
//!   maildir; `clinic.link("desk")` gives the link alone, `clinic.address()` the board's address.
//!
//! Never here: rules; how pages look.
//! Promises: each test has a clinic and a board of its own.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

#[path = "../command/world.rs"]
#[allow(dead_code, reason = "the tests of the command line use more of it")]
mod world;

#[path = "../python/mod.rs"]
mod python;

mod acting;
mod behind_tls;
mod browser;
mod clinic;
mod contacts;
mod monitors;
mod open_address;
mod policy;
mod setting_aside;
mod signing_in;
mod standing;
mod staying;
