//! What either database says when it refuses.
//!
//! Never here: what was being done.
//! Promises: what a server says of the values concerned, which may be personal, is left out.

use rusqlite::ErrorCode;
use tokio_postgres::error::SqlState;

/// The result of speaking to a database.
pub(in crate::store) type Result<T> = std::result::Result<T, DatabaseError>;

/// A refusal of the database.
#[derive(Debug, thiserror::Error)]
pub enum DatabaseError {
    /// Of the embedded one, or of a value that is not what was expected.
    #[error(transparent)]
    Sqlite(#[from] rusqlite::Error),
    /// Of the server.
    #[error("{message} (SQLSTATE {code})")]
    Postgres {
        /// The condition by its five characters (PostgreSQL manual, appendix A).
        code: String,
        /// The server's first line.
        message: String,
    },
    /// The connection to the server could not be made or is gone.
    #[error("the database server cannot be reached: {why}")]
    Unreachable {
        /// The reason.
        why: String,
    },
    /// A question gave no row.
    #[error("there is no such record")]
    NoRow,
    /// A statement of the transaction failed before, so that it cannot be committed.
    #[error("a part of the transaction failed")]
    Failed,
}

/// The kinds of refusal that can be acted on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::store) enum Refusal {
    Full,
    Busy,
    Corrupt,
    NotADatabase,
    Unreachable,
    Other,
}

impl DatabaseError {
    /// What can be done about it.
    pub(in crate::store) fn refusal(&self) -> Refusal {
        match self {
            Self::Sqlite(error) => match error.sqlite_error_code() {
                Some(ErrorCode::DiskFull) => Refusal::Full,
                Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Refusal::Busy,
                Some(ErrorCode::DatabaseCorrupt) => Refusal::Corrupt,
                Some(ErrorCode::NotADatabase) => Refusal::NotADatabase,
                _ => Refusal::Other,
            },
            Self::Postgres { code, .. } => match code.as_str() {
                "53100" => Refusal::Full,
                "55P03" | "40001" | "40P01" | "25P03" => Refusal::Busy,
                "XX001" | "XX002" => Refusal::Corrupt,
                "57P01" | "57P02" | "57P03" | "53300" => Refusal::Unreachable,
                _ => Refusal::Other,
            },
            Self::Unreachable { .. } => Refusal::Unreachable,
            Self::NoRow | Self::Failed => Refusal::Other,
        }
    }
}

impl From<tokio_postgres::Error> for DatabaseError {
    fn from(error: tokio_postgres::Error) -> Self {
        let Some(refused) = error.as_db_error() else {
            let mut why = error.to_string();
            let mut source = std::error::Error::source(&error);
            while let Some(cause) = source {
                why.push_str(&format!(": {cause}"));
                source = cause.source();
            }
            return Self::Unreachable { why };
        };
        // An input that cannot be read is quoted in the message itself.
        let message = match *refused.code() {
            SqlState::INVALID_TEXT_REPRESENTATION => "a value cannot be read".to_owned(),
            _ => refused.message().to_owned(),
        };
        Self::Postgres { code: refused.code().code().to_owned(), message }
    }
}

/// Turns a missing row into none.
pub(in crate::store) trait OptionalExtension<T> {
    /// None where there was no row.
    fn optional(self) -> Result<Option<T>>;
}

impl<T> OptionalExtension<T> for Result<T> {
    fn optional(self) -> Result<Option<T>> {
        match self {
            Ok(value) => Ok(Some(value)),
            Err(DatabaseError::NoRow) => Ok(None),
            Err(DatabaseError::Sqlite(rusqlite::Error::QueryReturnedNoRows)) => Ok(None),
            Err(error) => Err(error),
        }
    }
}
