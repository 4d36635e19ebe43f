//! One way to speak to either database, so that the files of the nouns need not know which it is:
//! connections, transactions, statements, rows, errors.
//!
//! The vocabulary of values is rusqlite's (`ToSql`, `FromSql`), for both. SQL is written once, in
//! what the two have in common; the rest is turned in `dialect`.
//!
//! Never here: tables, what is asked.
//! Promises: a transaction that is not committed is taken back, and one in which a statement
//! failed cannot be committed.

mod dialect;
mod error;
mod row;
mod server;
mod session;
mod statement;
mod transaction;

pub(super) use rusqlite::params;

pub use error::DatabaseError;
pub(super) use error::{OptionalExtension, Refusal, Result};
pub(super) use row::Row;
pub use server::{BadServer, Server};
pub(super) use session::Session;
use statement::Params;
pub(super) use statement::Statement;
pub(super) use transaction::{For, Transaction};

/// A connection to one of the two.
#[derive(Debug)]
pub(super) enum Connection {
    /// To an embedded database.
    Sqlite(rusqlite::Connection),
    /// To a server.
    Postgres(Session),
}

impl Connection {
    /// The embedded database, for what only it can do.
    pub(super) fn sqlite(&self) -> Option<&rusqlite::Connection> {
        match self {
            Self::Sqlite(connection) => Some(connection),
            Self::Postgres(_) => None,
        }
    }

    /// The server's session, for what only it can do.
    pub(super) fn postgres(&self) -> Option<&Session> {
        match self {
            Self::Sqlite(_) => None,
            Self::Postgres(session) => Some(session),
        }
    }

    /// A statement for one use.
    pub(super) fn prepare(&self, sql: &str) -> Result<Statement<'_>> {
        Ok(match self {
            Self::Sqlite(connection) => Statement::Once(connection.prepare(sql)?),
            Self::Postgres(session) => Statement::Postgres(session, sql.to_owned()),
        })
    }

    /// A statement that is kept ready for its next use.
    pub(super) fn prepare_cached(&self, sql: &str) -> Result<Statement<'_>> {
        Ok(match self {
            Self::Sqlite(connection) => Statement::Kept(connection.prepare_cached(sql)?),
            Self::Postgres(session) => Statement::Postgres(session, sql.to_owned()),
        })
    }

    /// Runs a statement; returns how many rows it changed.
    pub(super) fn execute(&self, sql: &str, params: impl Params) -> Result<usize> {
        self.prepare(sql)?.execute(params)
    }

    /// The first row that a question gives.
    pub(super) fn query_row<T>(
        &self,
        sql: &str,
        params: impl Params,
        map: impl FnOnce(&Row<'_>) -> Result<T>,
    ) -> Result<T> {
        self.prepare(sql)?.query_one(params, map)
    }

    /// Runs statements without parameters.
    pub(super) fn execute_batch(&self, sql: &str) -> Result<()> {
        match self {
            Self::Sqlite(connection) => Ok(connection.execute_batch(sql)?),
            Self::Postgres(session) => session.batch(sql),
        }
    }

    /// Begins a transaction.
    pub(super) fn transaction(&mut self, what: For) -> Result<Transaction<'_>> {
        Transaction::begin(self, what)
    }

    /// Whether nothing can be asked here any more.
    pub(super) fn is_lost(&self) -> bool {
        self.postgres().is_some_and(Session::is_lost)
    }
}
