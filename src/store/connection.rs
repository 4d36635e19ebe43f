//! How connections are opened and set, for the one writer and for readers.
//!
//! Never here: tables, transactions.
//! Promises: a commit is on the disk before anyone is told of it (WAL, synchronous FULL); foreign
//! keys hold; nothing in the file is trusted to run code.

use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};

use super::error::{Doing, StoreError};

/// How long to wait for another process's transaction: well above the longest that we make.
const BUSY_TIMEOUT: Duration = Duration::from_secs(10);

/// Statements kept ready for each connection: more than all that a batch uses.
const STATEMENTS_KEPT: usize = 96;

/// Page cache of the writer in KiB: the pages of some thousand follow-ups.
const WRITER_CACHE_KIB: i64 = 16 * 1024;

/// The write-ahead log is cut back to this many bytes after a checkpoint.
const LOG_BYTES_KEPT: i64 = 16 * 1024 * 1024;

/// Opens the read-write connection, without touching what is in the file.
pub(super) fn open_for_writing(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).doing("opening the database")?;
    prepare(&connection).doing("opening the database")?;
    Ok(connection)
}

/// Settings that write to the file, to be made once it is known to be ours.
pub(super) fn settle_writer(connection: &Connection) -> Result<(), StoreError> {
    let settle = || -> rusqlite::Result<()> {
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

/// Opens a connection that can only read.
pub(super) fn open_for_reading(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection =
        Connection::open_with_flags(path, flags).doing("opening the database for reading")?;
    prepare(&connection).doing("opening the database for reading")?;
    Ok(connection)
}

/// Settings that every connection has.
pub(super) fn prepare(connection: &Connection) -> rusqlite::Result<()> {
    connection.busy_timeout(BUSY_TIMEOUT)?;
    connection.set_prepared_statement_cache_capacity(STATEMENTS_KEPT);
    // Plans do not look at the values bound: else a kept statement with a range in it is prepared
    // anew for each new value, which took a sixth of all the time in the database.
    connection.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "trusted_schema", false)
}
