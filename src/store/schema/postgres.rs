//! Brings a database on a server to the present format.
//!
//! Never here: what the tables are used for; the embedded database, which has steps of its own.
//! Promises: as for the embedded one: each step is one transaction; a database from a newer version,
//! or of another program, is refused before anything in it is touched. A schema of the database
//! (`search_path`) counts as a database here.

use std::path::PathBuf;

use crate::store::database::{Connection, For, Server};
use crate::store::error::{Doing, StoreError};

/// The steps, in order; the format number is how many have been taken.
const STEPS: &[&str] = &[
    include_str!("postgres-0001-first.sql"),
    include_str!("postgres-0002-rounds.sql"),
    include_str!("postgres-0003-chapters.sql"),
    include_str!("postgres-0004-envelopes.sql"),
];

/// The format that this program writes.
pub(in crate::store) fn known_format() -> u32 {
    u32::try_from(STEPS.len()).expect("OK because there are few steps")
}

/// Refuses what this program must not touch, and returns the format found; 0 is an empty database.
pub(in crate::store) fn check(connection: &Connection, server: &Server) -> Result<u32, StoreError> {
    let doing = "opening the database";
    let path = || PathBuf::from(server.to_string());
    let (tables, is_ours): (i64, bool) = connection
        .query_row(
            "SELECT count(*), coalesce(bool_or(tablename = 'fadewatch_format'), false)
             FROM pg_tables WHERE schemaname = current_schema()",
            (),
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .doing(doing)?;
    if !is_ours {
        return if tables == 0 { Ok(0) } else { Err(StoreError::AnotherProgram { path: path() }) };
    }
    let found: i64 = connection
        .query_row("SELECT format FROM fadewatch_format", (), |row| row.get(0))
        .doing(doing)?;
    let found = u32::try_from(found).unwrap_or(u32::MAX);
    if found > known_format() {
        return Err(StoreError::Newer { path: path(), found, known: known_format() });
    }
    Ok(found)
}

/// Refuses a server that would lose what it said was kept.
pub(in crate::store) fn check_durable(
    connection: &Connection,
    server: &Server,
) -> Result<(), StoreError> {
    let fsync: String = connection
        .query_row("SELECT current_setting('fsync')", (), |row| row.get(0))
        .doing("opening the database")?;
    if fsync == "on" { Ok(()) } else { Err(StoreError::NotDurable { server: server.to_string() }) }
}

/// Takes the steps that are missing.
pub(in crate::store) fn migrate(
    connection: &mut Connection,
    server: &Server,
) -> Result<(), StoreError> {
    let doing = "bringing the database up to date";
    loop {
        let step = connection.transaction(For::Writing).doing(doing)?;
        // Read inside the transaction: another process may be taking the same step.
        let format = check(&step, server)?;
        let Some(sql) = STEPS.get(format as usize) else { return Ok(()) };
        step.execute_batch(sql).doing(doing)?;
        step.execute("UPDATE fadewatch_format SET format = ?1", [i64::from(format) + 1])
            .doing(doing)?;
        step.commit().doing(doing)?;
    }
}
