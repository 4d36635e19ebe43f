//! What can go wrong with a demonstration.
//!
//! Never here: what can go wrong in the service.
//! Promises: every error says where and what to do, or keeps the cause that does.

use std::path::PathBuf;

use crate::config::Problems;
use crate::post::PostError;
use crate::service::ServiceError;
use crate::store::StoreError;

/// Why a demonstration could not be run to its end.
#[derive(Debug, thiserror::Error)]
pub enum DemoError {
    /// The folder cannot be used.
    #[error("cannot use {}: {source}; name another folder", path.display())]
    Folder {
        /// The folder or file.
        path: PathBuf,
        /// The system's reason.
        source: std::io::Error,
    },
    /// Another demonstration lies there.
    #[error("{} holds something already; name an empty folder or a new one", path.display())]
    Taken {
        /// The folder.
        path: PathBuf,
    },
    /// A settings file of the demonstration cannot be used: our own mistake.
    #[error("{0}")]
    Problems(#[from] Problems),
    /// The store refused.
    #[error("{}", with_help(.0))]
    Store(#[from] StoreError),
    /// The service refused.
    #[error(transparent)]
    Service(#[from] ServiceError),
    /// A maildir cannot be made.
    #[error(transparent)]
    Post(#[from] PostError),
    /// A mail of one of the people could not be handed in.
    #[error("a reply could not be put into the service's mailbox: is the disk full?")]
    NotDelivered,
    /// What happens cannot be shown.
    #[error("cannot write the timetable: {0}")]
    Output(#[source] std::io::Error),
    /// The threads of the service cannot be started.
    #[error("cannot start the service's threads: {0}")]
    Threads(#[source] std::io::Error),
    /// Nothing has moved for a long time.
    #[error(
        "the service has stood still for {seconds} s with work left to do; look for its reasons \
         with FADEWATCH_LOG=info"
    )]
    StoodStill {
        /// For how long.
        seconds: u64,
    },
    /// The board cannot be shown.
    #[error("the board cannot open: is the port in use? name another one with --board")]
    Board,
    /// The service ended before the demonstration did.
    #[error("the service ended early; look for its reasons with FADEWATCH_LOG=info")]
    Ended,
}

fn with_help(refused: &StoreError) -> String {
    format!("{refused}\nhint: {}", refused.help())
}
