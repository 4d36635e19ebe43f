//! What holds on both, with the data in an encrypted file.

type Host = crate::bench::InAnEncryptedFile;
type Bench = crate::bench::Bench<Host>;

#[path = "crash.rs"]
mod crash;
#[path = "follow_ups.rs"]
mod follow_ups;
#[path = "journal.rs"]
mod journal;
#[path = "mail.rs"]
mod mail;
