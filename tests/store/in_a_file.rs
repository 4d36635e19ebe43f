//! What holds on both, with the data in a file.

type Host = crate::bench::InAFile;
type Bench = crate::bench::Bench<Host>;

#[path = "crash.rs"]
mod crash;
#[path = "follow_ups.rs"]
mod follow_ups;
#[path = "journal.rs"]
mod journal;
#[path = "mail.rs"]
mod mail;
