//! How connections are opened and set, for the one writer and for readers.
//!
//! Never here: tables, transactions.
//! Promises: a commit is on the disk before anyone is told of it (WAL, synchronous FULL); foreign
//! keys hold; nothing in the file is trusted to run code.

use std::time::Duration;

use rusqlite::OpenFlags;
use rusqlite::config::DbConfig;

use super::data_key::DataFile;
use super::database::{Connection, Server, Session};
use super::error::{Doing, StoreError};

/// How long to wait for another process's transaction: well above the longest that we make.
const BUSY_TIMEOUT: Duration = Duration::from_secs(10);

/// Statements kept ready for each connection: more than all that a batch uses.
const STATEMENTS_KEPT: usize = 96;

/// Page cache of the writer in KiB: the pages of some thousand follow-ups.
const WRITER_CACHE_KIB: i64 = 16 * 1024;

/// The write-ahead log is cut back to this many bytes after a checkpoint.
const LOG_BYTES_KEPT: i64 = 16 * 1024 * 1024;

/// Where a database is.
#[derive(Clone, Debug)]
pub(super) enum Source {
    /// In a file.
    File(DataFile),
    /// On a server.
    Server(Server),
}

/// Opens the read-write connection, without touching what is in the file.
pub(super) fn open_for_writing(file: &DataFile) -> Result<rusqlite::Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection =
        rusqlite::Connection::open_with_flags(&file.path, flags).doing("opening the database")?;
    file.unlock(&connection)?;
    // Until it is known to be ours, not even its log is folded into it.
    connection
        .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
        .and_then(|_| prepare(&connection))
        .doing("opening the database")?;
    Ok(connection)
}

/// Settings that write to the file, to be made once it is known to be ours.
pub(super) fn settle_writer(connection: &rusqlite::Connection) -> Result<(), StoreError> {
    let settle = || -> rusqlite::Result<()> {
        connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
        connection.pragma_update(None, "journal_mode", "WAL")?;
        // FULL, not NORMAL: a commit lost at a power cut would send mail twice or lose a reply.
        connection.pragma_update(None, "synchronous", "FULL")?;
        connection.pragma_update(None, "cache_size", -WRITER_CACHE_KIB)?;
        connection.pragma_update(None, "journal_size_limit", LOG_BYTES_KEPT)?;
        // Without this, REPLACE would delete a journal row without asking the trigger.
        connection.pragma_update(None, "recursive_triggers", true)
    };
    settle().doing("opening the database")
}

/// Opens a connection that is only read from.
pub(super) fn open_for_reading(source: &Source) -> Result<Connection, StoreError> {
    match source {
        Source::File(file) => open_file_for_reading(file).map(Connection::Sqlite),
        Source::Server(server) => open_session(server).map(Connection::Postgres),
    }
}

/// Opens a session on a server, for reading or writing.
pub(super) fn open_session(server: &Server) -> Result<Session, StoreError> {
    Session::open(server).doing("opening the database")
}

/// Opens a connection to a file that can only read.
pub(super) fn open_file_for_reading(file: &DataFile) -> Result<rusqlite::Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = rusqlite::Connection::open_with_flags(&file.path, flags)
        .doing("opening the database for reading")?;
    file.unlock(&connection)?;
    prepare(&connection).doing("opening the database for reading")?;
    Ok(connection)
}

/// Settings that every connection has.
pub(super) fn prepare(connection: &rusqlite::Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(BUSY_TIMEOUT)?;
    connection.set_prepared_statement_cache_capacity(STATEMENTS_KEPT);
    // Plans do not look at the values bound: else a kept statement with a range in it is prepared
    // anew for each new value, which took a sixth of all the time in the database.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "trusted_schema", false)
}
