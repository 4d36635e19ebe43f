//! What can go wrong with the data folder and the database in it, and what to do then.
//!
//! Never here: names, addresses or words of people; SQL text.
//! Promises: every error says what failed and where, and `help` says what still holds and what to
//! do next; no error leaves half a transaction behind.

use std::io;
use std::path::PathBuf;

use super::database::{self, DatabaseError, Refusal};
use super::ids::FollowUpId;
use crate::care::{ClientRef, PlanVersion};

/// An error of the store.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The data folder cannot be made, read or changed.
    #[error("cannot use the data folder {}", path.display())]
    Folder {
        /// The folder, or the file in it.
        path: PathBuf,
        /// The system's reason.
        source: io::Error,
    },
    /// The data folder cannot be written to.
    #[error("the data folder {} is read-only for this user", path.display())]
    FolderReadOnly {
        /// The folder.
        path: PathBuf,
    },
    /// The folder is in use for something else.
    #[error("the folder {} holds other files and is open to other users", path.display())]
    FolderNotOurs {
        /// The folder.
        path: PathBuf,
    },
    /// There is no database where one is to be read.
    #[error("there is no data in {}", path.display())]
    Missing {
        /// The folder.
        path: PathBuf,
    },
    /// The file is not a database at all.
    #[error("{} is not a database", path.display())]
    NotADatabase {
        /// The file.
        path: PathBuf,
    },
    /// A key is named for a file that anybody can read.
    #[error("{} is not encrypted, but a key is named for it", path.display())]
    NotEncrypted {
        /// The file.
        path: PathBuf,
    },
    /// The key does not open the file.
    #[error("{} cannot be read with the key that is named for it", path.display())]
    WrongKey {
        /// The file.
        path: PathBuf,
    },
    /// The file is a database that this program did not make.
    #[error("{} is a database of another program", path.display())]
    AnotherProgram {
        /// The file.
        path: PathBuf,
    },
    /// The database was made by a newer version.
    #[error(
        "{} has data format {found}, which is newer than this program (it knows formats up to \
         {known})", path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: u32,
        /// The newest format that this program knows.
        known: u32,
    },
    /// The database is of an older format and was opened only to be read.
    #[error("{} has data format {found}; this program reads format {known}", path.display())]
    Older {
        /// The file.
        path: PathBuf,
        /// Its format.
        found: u32,
        /// The format that this program reads.
        known: u32,
    },
    /// The database file is damaged.
    #[error("the database is damaged: {finding}")]
    Damaged {
        /// What the check found.
        finding: String,
    },
    /// No room is left on the disk.
    #[error("no room is left on the disk for {doing}")]
    Full {
        /// What was being done.
        doing: &'static str,
    },
    /// Another process kept the database locked for longer than we wait.
    #[error("another process kept the database locked while {doing}")]
    Busy {
        /// What was being done.
        doing: &'static str,
    },
    /// Another service already runs on the folder.
    #[error("another `fadewatch serve` already runs on {}", path.display())]
    ServiceRunning {
        /// The folder.
        path: PathBuf,
    },
    /// A client with the same reference is enrolled already.
    #[error("a client with the reference `{client}` is enrolled already")]
    DuplicateClient {
        /// The reference.
        client: ClientRef,
    },
    /// A follow-up names a plan version that was never added.
    #[error("the plan version {version} is not in the store")]
    UnknownPlan {
        /// The version.
        version: PlanVersion,
    },
    /// There is no follow-up with the number.
    #[error("there is no follow-up {follow_up}")]
    UnknownFollowUp {
        /// The number.
        follow_up: FollowUpId,
    },
    /// Somebody else has added entries since the follow-up was loaded.
    #[error(
        "follow-up {follow_up} has {found} entries, but the change was worked out on {expected}"
    )]
    MovedOn {
        /// The follow-up.
        follow_up: FollowUpId,
        /// How many entries the change was worked out on.
        expected: u64,
        /// How many there are.
        found: u64,
    },
    /// Something kept cannot be read by this version.
    #[error("{what} {id} in the store cannot be read")]
    Unreadable {
        /// What kind of record.
        what: &'static str,
        /// Which one.
        id: String,
        /// Why, where a decoder said so.
        source: Option<serde_json::Error>,
    },
    /// The store has been closed.
    #[error("the store is closed")]
    Closed,
    /// The machine gave no thread for the writer.
    #[error("the machine gave no thread for the store")]
    NoThread {
        /// The system's reason.
        source: io::Error,
    },
    /// The machine gave no randomness for a token.
    #[error("the machine gave no random numbers")]
    NoRandomness,
    /// A mail about the same client has the Message-ID that the new token would give.
    #[error("a new token begins like one that was given out before")]
    TokenShown,
    /// The bell that tells the service of other processes' work cannot be heard.
    #[error("cannot listen for the work of other commands in {}", path.display())]
    Bell {
        /// The folder.
        path: PathBuf,
        /// The system's reason.
        source: notify::Error,
    },
    /// The database refused.
    #[error("the database refused {doing}")]
    Database {
        /// What was being done.
        doing: &'static str,
        /// The database's reason.
        source: DatabaseError,
    },
    /// The database server cannot be reached.
    #[error("the database server cannot be reached for {doing}")]
    Unreachable {
        /// What was being done.
        doing: &'static str,
        /// The reason.
        source: DatabaseError,
    },
    /// The server would lose what it said was kept.
    #[error("{server} runs without fsync: a power cut would lose what it said was kept")]
    NotDurable {
        /// The server.
        server: String,
    },
    /// This machine and the server do not agree on the time.
    #[error("this machine's clock and the database server's differ by {by_ms} ms")]
    ClocksDiffer {
        /// By how much, in milliseconds; positive where this machine's is ahead.
        by_ms: i64,
    },
    /// A copy was to be put where something is kept already.
    #[error("the database is not empty")]
    NotEmpty,
    /// Something that is done to a file was asked of a database on a server.
    #[error("the data is on a server, not in a file of ours")]
    OnAServer,
}

impl StoreError {
    /// What the error means, what still holds and what to do next, in full sentences.
    pub fn help(&self) -> &'static str {
        match self {
            Self::Folder { .. } => {
                "Nothing was changed. Check that the folder exists, that it belongs to the user \
                 the service runs as, and that the disk is mounted."
            }
            Self::FolderReadOnly { .. } => {
                "Nothing was changed. Run the command as the user that the service runs as, or \
                 mount the disk for writing. Until then no look is asked and no reply is taken."
            }
            Self::FolderNotOurs { .. } => {
                "Nothing was changed. Name a new or empty folder as the data folder: it will be \
                 closed to all other users."
            }
            Self::Missing { .. } => {
                "Check the data folder in the clinic file. The first `fadewatch enroll` or \
                 `fadewatch serve` makes the database."
            }
            Self::NotADatabase { .. } => {
                "The file was left as it is. If it is encrypted, name its key: in `[store]` of the clinic \
                 file (`key_file`), or for a copy with `--key-file`. Else name another data folder, or restore the database \
                 from a backup."
            }
            Self::NotEncrypted { .. } => {
                "Nothing was changed. Take the key out of `[store]` in the clinic file, or encrypt \
                 the data first: `fadewatch restore --help` says how."
            }
            Self::WrongKey { .. } => {
                "The file was left as it is. Name the key that it was made with. If that is the one, \
                 the file is damaged: restore the newest backup."
            }
            Self::AnotherProgram { .. } => {
                "The file was left as it is. Name another data folder, or restore the database \
                 from a backup."
            }
            Self::Newer { .. } => {
                "The data was left as it is. Use the version of fadewatch that wrote it, or a \
                 newer one."
            }
            Self::Older { .. } => {
                "Nothing was changed. Start `fadewatch serve` once: it brings the data up to date."
            }
            Self::Damaged { .. } => {
                "Keep a copy of the data folder, then restore the newest backup. Until then call \
                 the clients whose looks are due."
            }
            Self::Full { .. } => {
                "What was being written was taken back whole; all that was there before is safe. \
                 Free some room on the disk; the service goes on by itself."
            }
            Self::Busy { .. } => {
                "Nothing was changed. Try again; if it stays so, look for a command or a backup \
                 that hangs."
            }
            Self::ServiceRunning { .. } => {
                "Only one service may run on a data folder. Stop the other one first; all other \
                 commands work while it runs."
            }
            Self::DuplicateClient { .. } => {
                "Nothing was changed. Give this client another reference, or close the other \
                 follow-up and enrol under a new reference."
            }
            Self::UnknownPlan { .. } | Self::UnknownFollowUp { .. } => {
                "Nothing was changed. Check the reference; `fadewatch show` lists what there is."
            }
            Self::MovedOn { .. } => {
                "Nothing was changed. It is worked out again on the newer entries."
            }
            Self::Unreadable { .. } => {
                "The record was left as it is. Run `fadewatch journal verify`; if it reports \
                 damage, restore the newest backup."
            }
            Self::TokenShown => "Nothing was changed. It is tried again with another token.",
            Self::Closed => "The service is stopping; nothing was changed.",
            Self::NoThread { .. } | Self::NoRandomness => {
                "Nothing was changed. The machine is out of threads, memory or random numbers."
            }
            Self::Bell { .. } => {
                "Commands still work, but the service would notice them late. Check the system's \
                 limit of watched files (fs.inotify.max_user_instances and max_user_watches)."
            }
            Self::Unreachable { .. } => {
                "Nothing was lost that was told as done. Check that the database server runs, and \
                 its address in `[store]` of the clinic file; the service begins anew by itself."
            }
            Self::NotDurable { .. } => {
                "Nothing was changed. Set `fsync = on` in the server's configuration."
            }
            Self::ClocksDiffer { .. } => {
                "Nothing was changed. A service whose clock is wrong would ask and give up too soon or \
                 too late: let both machines keep the time (NTP), then start it again."
            }
            Self::NotEmpty => {
                "Nothing was changed. Move the data folder aside, or name a new database or a new schema \
                 in `[store]`: a copy is never laid over what is kept."
            }
            Self::OnAServer => "Nothing was changed. Use the server's own tools, such as pg_dump.",
            Self::Database { .. } => {
                "What was being written was taken back whole; all that was there before is safe."
            }
        }
    }

    /// Sorts an error of the database by what can be done about it.
    pub(super) fn of(doing: &'static str, source: DatabaseError) -> Self {
        match source.refusal() {
            Refusal::Full => Self::Full { doing },
            Refusal::Busy => Self::Busy { doing },
            Refusal::Corrupt => Self::Damaged { finding: source.to_string() },
            Refusal::Unreachable => Self::Unreachable { doing, source },
            Refusal::NotADatabase | Refusal::Other => Self::Database { doing, source },
        }
    }

    /// A record that does not decode.
    pub(super) fn unreadable(what: &'static str, id: impl ToString) -> Self {
        Self::Unreadable { what, id: id.to_string(), source: None }
    }
}

/// Names what was being done when the database refused.
pub(super) trait Doing<T> {
    /// Turns a refusal into a store error that says what was being done.
    fn doing(self, what: &'static str) -> Result<T, StoreError>;
}

impl<T> Doing<T> for database::Result<T> {
    fn doing(self, what: &'static str) -> Result<T, StoreError> {
        self.map_err(|source| StoreError::of(what, source))
    }
}

impl<T> Doing<T> for rusqlite::Result<T> {
    fn doing(self, what: &'static str) -> Result<T, StoreError> {
        self.map_err(|source| StoreError::of(what, source.into()))
    }
}
