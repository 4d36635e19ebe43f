//! The service's acts on a store of their own: mail in, mail out, the clock; no mail server and no
//! loop.
//!
//! Never here: single rules; words and their readings.

#![allow(clippy::unwrap_used, reason = "a test ends where what it rests on is missing")]

mod at_hand;
mod clock;
mod crowd;
mod desk;
mod mail_clock;
mod newer_alert;
mod people;
mod rounds;
