//! A store that one thread has for itself: no writer thread, no readers, in memory or on a disk.
//!
//! The tables, the transactions and all that can be done in them are the same as behind `Store`.
//! The simulation uses it, which needs many stores a second and one order of events.
//!
//! Never here: faults (whoever wants them says when), what is written.
//! Promises: a failed `write` has changed nothing; what was committed outlives `killed`.

use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use rusqlite::backup::Backup;
use rusqlite::config::DbConfig;

use super::connection;
use super::data_key::DataFile;
use super::database::Connection;
use super::error::{Doing, StoreError};
use super::folder;
use super::schema;
use super::view::{Tx, View};
use super::writer::in_one_transaction;

/// More pages than any file can have: SQLite's own limit.
const PAGES_MAX: u32 = 4_294_967_294;

/// Pages in memory; on a disk they are four times that.
const PAGE_BYTES_IN_MEMORY: u32 = 1024;

/// A store of one thread.
#[derive(Debug)]
pub struct Solo {
    connection: Connection,
    /// The data folder; none for a store in memory.
    folder: Option<PathBuf>,
}

impl Solo {
    /// A new, empty store in memory.
    ///
    /// # Errors
    /// When there is no memory for it.
    pub fn in_memory() -> Result<Self, StoreError> {
        // An empty store is made once and copied from then on: taking the steps of the schema took a
        // twentieth of a simulated month.
        static EMPTY: Mutex<Option<rusqlite::Connection>> = Mutex::new(None);
        let doing = "opening a database in memory";
        let mut connection = rusqlite::Connection::open_in_memory().doing(doing)?;
        let mut empty = EMPTY.lock().unwrap_or_else(PoisonError::into_inner);
        let empty = match &mut *empty {
            Some(empty) => empty,
            none => {
                let first = rusqlite::Connection::open_in_memory().doing(doing)?;
                // Each transaction puts the pages that it changes aside, whole.
                first.pragma_update(None, "page_size", PAGE_BYTES_IN_MEMORY).doing(doing)?;
                none.insert(ready(first, &DataFile::new(":memory:", None))?)
            }
        };
        Backup::new(empty, &mut connection).and_then(|copy| copy.step(-1)).doing(doing)?;
        connection::prepare(&connection).doing(doing)?;
        connection::settle_writer(&connection)?;
        // Nothing in memory outlives the process, so nothing has to wait for a disk.
        connection.pragma_update(None, "journal_mode", "MEMORY").doing(doing)?;
        Ok(Self { connection: Connection::Sqlite(connection), folder: None })
    }

    /// Opens a data folder; it is made where it is missing.
    ///
    /// # Errors
    /// As `Store::open` for the service.
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        folder::prepare(folder)?;
        let path = folder::prepare_database(folder)?;
        let file = DataFile::new(path, None);
        let connection = ready(connection::open_for_writing(&file)?, &file)?;
        Ok(Self { connection: Connection::Sqlite(connection), folder: Some(folder.to_owned()) })
    }

    /// Runs work in one transaction: committed whole when the work returns `Ok`, else taken back
    /// whole.
    ///
    /// # Errors
    /// Those of the work, and those of the disk at the commit.
    pub fn write<T, E: From<StoreError>>(
        &mut self,
        work: impl FnOnce(&mut Tx<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        in_one_transaction(&mut self.connection, work)
    }

    /// Runs work on what is committed.
    ///
    /// # Errors
    /// Those of the work.
    pub fn read<T, E: From<StoreError>>(
        &self,
        work: impl FnOnce(&View<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        work(&View::over(&self.connection))
    }

    /// Lets the database grow no further, as on a disk that is full, or lifts that again.
    ///
    /// # Errors
    /// When the database refuses.
    pub fn set_full(&mut self, full: Fullness) -> Result<(), StoreError> {
        let doing = "limiting the database";
        let Some(file) = self.connection.sqlite() else { return Err(StoreError::OnAServer) };
        let pages = match full {
            Fullness::NoPageLeft => {
                let pages: i64 =
                    file.pragma_query_value(None, "page_count", |row| row.get(0)).doing(doing)?;
                u32::try_from(pages).unwrap_or(PAGES_MAX)
            }
            Fullness::Room => PAGES_MAX,
        };
        file.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(())).doing(doing)
    }

    /// What a killed process leaves, opened anew. In memory that is the same database; on a disk
    /// the write-ahead log is left as it was, for the next opening to recover.
    ///
    /// # Errors
    /// When the database cannot be opened any more.
    pub fn killed(self) -> Result<Self, StoreError> {
        let Some(folder) = self.folder else { return Ok(self) };
        let Some(file) = self.connection.sqlite() else { return Err(StoreError::OnAServer) };
        file.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
            .doing("ending at once")?;
        drop(self.connection);
        Self::open(&folder)
    }
}

/// Whether a database may grow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fullness {
    /// It may.
    Room,
    /// What is there may be changed as long as that takes no new page.
    NoPageLeft,
}

fn ready(
    mut connection: rusqlite::Connection,
    file: &DataFile,
) -> Result<rusqlite::Connection, StoreError> {
    schema::check(&connection, file)?;
    connection::settle_writer(&connection)?;
    schema::migrate(&mut connection, file)?;
    Ok(connection)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::RememberedInstant;

    fn at(ms: i64) -> crate::follow_up::Instant {
        chrono::DateTime::from_timestamp_millis(ms).expect("OK because it is in this century")
    }

    #[test]
    fn what_was_committed_on_a_disk_outlives_a_killed_process() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Solo::open(folder.path()).unwrap();
        store.write(|tx| tx.remember(RememberedInstant::LastAlive, at(1))).unwrap();
        let failed = store.write(|tx| {
            tx.remember(RememberedInstant::LastAlive, at(2))?;
            Err::<(), _>(StoreError::Closed)
        });
        assert!(failed.is_err());
        let store = store.killed().unwrap();
        let kept = store.read(|view| view.remembered(RememberedInstant::LastAlive)).unwrap();
        assert_eq!(kept, Some(at(1)));
    }

    #[test]
    fn a_full_store_refuses_what_needs_room_and_takes_it_again_once_there_is_some() {
        let mut store = Solo::in_memory().unwrap();
        store.set_full(Fullness::NoPageLeft).unwrap();
        let large = vec![0; 100_000];
        let put = |store: &mut Solo| {
            store.write(|tx| tx.put_received(super::super::Place::by_bytes(&large), &large, at(1)))
        };
        assert!(matches!(put(&mut store), Err(StoreError::Full { .. })));
        store.set_full(Fullness::Room).unwrap();
        assert!(put(&mut store).unwrap().is_some());
    }
}
