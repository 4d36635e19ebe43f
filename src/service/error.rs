//! What can go wrong while the service works, with what to do about it.
//!
//! Never here: personal data: messages name references only.
//! Promises: every error keeps its cause.

use super::picturing::Commission;
use super::refusal::Refusal;
use crate::care::PlanVersion;
use crate::post::PostError;
use crate::post::message::ComposeError;
use crate::store::{BadServer, FollowUpId, StoreError};

/// A failure of the running service.
#[derive(Debug, thiserror::Error)]
pub enum ServiceError {
    /// The store refused.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The settings of the database server cannot be used.
    #[error("{0}; see `[store]` in the clinic file")]
    Server(#[from] BadServer),
    /// The session on the database server was lost.
    #[error(
        "the database server is out of reach: another service takes over if there is one; this one \
         ends, so that it is started anew"
    )]
    ServerLost,
    /// A mail transport cannot be set up.
    #[error(transparent)]
    Post(#[from] PostError),
    /// A notice could not be made into a mail.
    #[error("a mail about follow-up {follow_up:?} cannot be composed")]
    Compose {
        /// Which follow-up, where it is about one.
        follow_up: Option<FollowUpId>,
        /// Why.
        #[source]
        source: ComposeError,
    },
    /// An address on file cannot be written to.
    #[error("the address of {whom} cannot be used; correct it in the file that names it")]
    Address {
        /// Whose address, by reference.
        whom: String,
    },
    /// A follow-up's plan has no ladder for its client's level: enrolment refuses that.
    #[error("plan version {plan} has no ladder for the client's risk level")]
    NoLadder {
        /// The plan's version.
        plan: PlanVersion,
    },
    /// A follow-up stays due whatever is done about it: a bug of ours.
    #[error(
        "follow-up {follow_up} stays due whatever is done; please report this with its journal"
    )]
    TurnsWithoutEnd {
        /// Which one.
        follow_up: FollowUpId,
    },
    /// A secret cannot be had.
    #[error("{what}")]
    Secret {
        /// Which one, and what to do.
        what: String,
    },
    /// An act wants pictures that nobody has drawn yet, and nothing of it was written: draw them
    /// ([`Office::draw`](super::Office::draw)) and do it again.
    #[error("pictures are to be drawn first")]
    Undrawn(Vec<Commission>),
    /// An act by hand was refused; nothing was changed.
    #[error("{0}; nothing was changed")]
    Refused(#[from] Refusal),
    /// A loop ended by itself, which is our bug.
    #[error(
        "a part of the service ended by itself; the journal is safe, and the service manager \
         starts the service again: send the log to whoever maintains it"
    )]
    LoopEnded,
    /// Language files cannot be used.
    #[error("the language folder cannot be used:\n{0}")]
    Languages(String),
    /// The system refused something that the service needs to run.
    #[error("{doing}")]
    System {
        /// What was being done.
        doing: &'static str,
        /// Why it failed.
        #[source]
        source: std::io::Error,
    },
}
