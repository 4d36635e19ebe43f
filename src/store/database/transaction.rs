//! Transactions on either database.
//!
//! Never here: who may write when (`writer`).
//! Promises: a transaction that is dropped is taken back; while one that writes is open, no other
//! process writes.

use std::ops::Deref;

use super::Connection;
use super::error::Result;
use super::session;

/// What a transaction is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::store) enum For {
    /// Reading one moment of the data.
    Reading,
    /// Writing, alone.
    Writing,
}

/// An open transaction.
pub(in crate::store) struct Transaction<'c> {
    connection: &'c Connection,
    is_open: bool,
}

impl<'c> Transaction<'c> {
    pub(super) fn begin(connection: &'c Connection, what: For) -> Result<Self> {
        let begun = Self { connection, is_open: true };
        match (connection, what) {
            (Connection::Sqlite(sqlite), For::Reading) => kept(sqlite, "BEGIN")?,
            (Connection::Sqlite(sqlite), For::Writing) => kept(sqlite, "BEGIN IMMEDIATE")?,
            (Connection::Postgres(session), For::Reading) => session.begin(session::READING)?,
            (Connection::Postgres(session), For::Writing) => session.begin(session::WRITING)?,
        }
        Ok(begun)
    }

    /// Makes all of it last.
    pub(in crate::store) fn commit(mut self) -> Result<()> {
        match self.connection {
            Connection::Sqlite(sqlite) => kept(sqlite, "COMMIT")?,
            Connection::Postgres(session) => session.commit()?,
        }
        self.is_open = false;
        Ok(())
    }
}

/// Runs what begins or ends a transaction, kept ready: every act does both.
fn kept(sqlite: &rusqlite::Connection, sql: &str) -> Result<()> {
    sqlite.prepare_cached(sql)?.execute([])?;
    Ok(())
}

impl Deref for Transaction<'_> {
    type Target = Connection;

    fn deref(&self) -> &Connection {
        self.connection
    }
}

impl Drop for Transaction<'_> {
    fn drop(&mut self) {
        let is_open = match self.connection {
            Connection::Sqlite(sqlite) => !sqlite.is_autocommit(),
            Connection::Postgres(session) => self.is_open && !session.is_lost(),
        };
        if is_open && let Err(error) = self.connection.execute_batch("ROLLBACK") {
            // The next BEGIN fails by it, so that nothing is written into what is left.
            tracing::warn!(%error, "a transaction could not be taken back");
        }
    }
}
