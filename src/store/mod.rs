//! The store: journal, due times, mail in and out, people and plans, in one SQLite file
//! or on a PostgreSQL server.
//!
//! `Store::open` gives the doors; `Store::write` runs work in one transaction on the one writer,
//! `Store::read` on one moment of the data. What can be done there stands in the files of its
//! nouns. All SQL of the project is in this room, and none of it shows in a signature, so that
//! both databases stand behind the same doors.
//!
//! Never here: clinic rules, wording, clocks (instants arrive as arguments).
//! Promises: what was told as done is on the disk; a fact and the duties that follow from it are
//! committed together or not at all; the journal only grows, and shows what was changed by other
//! hands; names and addresses are kept apart from it.

mod backup;
pub mod bell;
mod chain;
mod changes;
mod connection;
mod data_key;
mod database;
mod entry_text;
mod error;
mod facts;
mod fittings;
mod folder;
mod folding;
mod follow_ups;
mod forgetting;
mod ids;
mod inbox;
mod journal;
mod kept_mail;
mod listing;
mod mailboxes;
mod mails;
mod moving;
mod occasions;
mod opened;
mod outbox;
mod people;
mod plans;
mod rates;
mod readers;
mod rounds;
mod schema;
mod snapshot;
mod solo;
#[cfg(test)]
mod tests;
mod tokens;
mod view;
mod writer;

pub use chain::Digest;
pub use changes::{Change, Head, Loaded};
pub use data_key::{BadKey, CAN_ENCRYPT, DataKey, is_plain};
pub use database::{BadServer, DatabaseError, Server};
pub use error::StoreError;
pub use facts::RememberedInstant;
pub use fittings::KeptFitting;
pub use folder::{DATABASE, ServiceLock};
pub use follow_ups::{Appended, Enrolment};
pub use forgetting::Forgotten;
pub use ids::{FollowUpId, InboxId, JournalSeq, OccasionId, OutboxId};
pub use inbox::{Filing, InboxRecord, InboxStatus, Place, TakenMail};
pub use journal::{JournalLine, Tampering, Verification};
pub use kept_mail::KeptMail;
pub use listing::{Listed, ListedAlert, ListedStanding};
pub use mailboxes::MailboxMark;
pub use mails::{ClaimedMail, MailRecord, MailStatus, NewMail, Urgency};
pub use occasions::{KeptOccasion, OccasionRecord};
pub use opened::{Mode, Store};
pub use outbox::OutboxCounts;
pub use people::{Person, PersonRef};
pub use rates::StrangersMail;
pub use solo::{Fullness, Solo};
pub use tokens::{NotAToken, RequestTarget, Token, TokenMeaning};
pub use view::{Tx, View};
