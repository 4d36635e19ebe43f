//! Brings an embedded database to the present format, one numbered step after the other.
//!
//! Never here: what the tables are used for.
//! Promises: each step is one transaction; a database from a newer version, or of another
//! program, is refused before anything in it is touched.

pub(super) mod postgres;

use rusqlite::{Connection, ErrorCode, TransactionBehavior};

use super::data_key::DataFile;
use super::error::{Doing, StoreError};

/// Marks our databases in the file header: the letters `fade`.
const APPLICATION_ID: i32 = 0x6661_6465;

/// The steps, in order; the format number is how many have been taken.
const STEPS: &[&str] = &[
    include_str!("schema/0001-first.sql"),
    include_str!("schema/0002-fitting.sql"),
    include_str!("schema/0003-choices.sql"),
    include_str!("schema/0004-rounds.sql"),
    include_str!("schema/0005-chapters.sql"),
    include_str!("schema/0006-envelopes.sql"),
];

/// The format that this program writes.
pub(super) fn known_format() -> u32 {
    u32::try_from(STEPS.len()).expect("OK because there are few steps")
}

/// Refuses what this program must not touch, and returns the format found; 0 is an empty file.
pub(super) fn check(connection: &Connection, file: &DataFile) -> Result<u32, StoreError> {
    let path = &file.path;
    let format = match pragma(connection, "user_version") {
        Ok(format) => u32::try_from(format).unwrap_or(u32::MAX),
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) => {
            let path = path.clone();
            return Err(match file.key {
                Some(_) => StoreError::WrongKey { path },
                None => StoreError::NotADatabase { path },
            });
        }
        Err(error) => return Err(StoreError::of("opening the database", error.into())),
    };
    let application = pragma(connection, "application_id").doing("opening the database")?;
    let tables: i64 = connection
        .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
        .doing("opening the database")?;
    if application != APPLICATION_ID && (format > 0 || application != 0 || tables > 0) {
        return Err(StoreError::AnotherProgram { path: path.to_owned() });
    }
    if format > known_format() {
        return Err(StoreError::Newer {
            path: path.to_owned(),
            found: format,
            known: known_format(),
        });
    }
    Ok(format)
}

/// Takes the steps that are missing.
pub(super) fn migrate(connection: &mut Connection, file: &DataFile) -> Result<(), StoreError> {
    // A step may put a table in the place of another of the same name, with the same rows: what refers
    // to them is left alone meanwhile. SQLite takes this only between transactions.
    let minding_references = |connection: &Connection, mind: bool| {
        connection
            .pragma_update(None, "foreign_keys", mind)
            .doing("bringing the database up to date")
    };
    minding_references(connection, false)?;
    take_steps(connection, file)?;
    minding_references(connection, true)
}

fn take_steps(connection: &mut Connection, file: &DataFile) -> Result<(), StoreError> {
    loop {
        let step = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .doing("bringing the database up to date")?;
        // Read again inside the transaction: another process may be taking the same step.
        let format = check(&step, file)?;
        let Some(sql) = STEPS.get(format as usize) else { return Ok(()) };
        step.execute_batch(sql).doing("bringing the database up to date")?;
        step.pragma_update(None, "application_id", APPLICATION_ID)
            .and_then(|()| step.pragma_update(None, "user_version", format + 1))
            .and_then(|()| step.commit())
            .doing("bringing the database up to date")?;
    }
}

fn pragma(connection: &Connection, name: &str) -> rusqlite::Result<i32> {
    connection.pragma_query_value(None, name, |row| row.get(0))
}
