//! The built program against real mail servers: from a due look to a resumed follow-up, and what
//! goes wrong in between.
//!
//! Never here: single rules (those of the core need no mail), single rooms.
//! Promises: each test has its own clinic, data folder and mailbox, so all may run at once; times
//! are those of a real clock, in minutes.

// A test that cannot go on had better stop right there.
#![allow(clippy::unwrap_used)]

#[path = "peers/mod.rs"]
mod peers;
#[path = "python/mod.rs"]
mod python;

#[path = "service/clinic.rs"]
mod clinic;
#[path = "service/mail.rs"]
mod mail;
#[allow(dead_code, reason = "shared with the tests of trust, which hear all that it tells")]
#[path = "service/program.rs"]
mod program;
#[path = "service/record.rs"]
mod record;
#[path = "service/submission.rs"]
mod submission;

#[path = "service/bad_mail.rs"]
mod bad_mail;
#[path = "service/bounce.rs"]
mod bounce;
#[path = "service/confidential.rs"]
mod confidential;
#[path = "service/full_disk.rs"]
mod full_disk;
#[path = "service/kills.rs"]
mod kills;
#[path = "service/proof.rs"]
mod proof;
#[path = "service/python_mails.rs"]
mod python_mails;
#[path = "service/refusals.rs"]
mod refusals;
#[path = "service/restarts.rs"]
mod restarts;
#[path = "service/room.rs"]
mod room;
#[path = "service/stopping.rs"]
mod stopping;
#[path = "service/whole_path.rs"]
mod whole_path;
