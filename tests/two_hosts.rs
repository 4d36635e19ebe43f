//! Several services on one database server: one works, the others stand by, and whoever is killed,
//! nothing is lost and nothing is done by two.
//!
//! `FADEWATCH_TEST_KILLS=200 cargo test --release --test two_hosts -- --nocapture` is the long run.
//!
//! Never here: single rules; what one service does alone.
//! Promises: the services are the built program, each with a data folder of its own; what is checked
//! at the end is read past our own program wherever it can be: the mails as files, the tables by the
//! server's own client.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on says so by stopping")]

mod server;

#[path = "two_hosts/check.rs"]
mod check;
#[path = "two_hosts/clinic.rs"]
mod clinic;
#[path = "two_hosts/kills.rs"]
mod kills;
#[path = "two_hosts/paused.rs"]
mod paused;
#[path = "two_hosts/settings.rs"]
mod settings;
#[path = "two_hosts/standing_by.rs"]
mod standing_by;
