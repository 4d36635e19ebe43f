//! Copies of the data that can be trusted, and checks of the data itself.
//!
//! Never here: when a backup is made, and how many are kept.
//! Promises: a copy is of one moment, is made while the service works, and has its final name
//! only once it is whole, checked and on the disk; a copy of encrypted data has the same key.

use std::fs::{self, File};
use std::path::Path;
use std::time::Duration;

use rusqlite::backup::Backup;

use super::connection;
use super::data_key::{DataFile, DataKey};
use super::database::Connection;
use super::error::{Doing, StoreError};
use super::moving;
use super::opened::Store;
use super::schema;
use super::view::View;

/// Pages copied before the writer is let in.
const PAGES_AT_ONCE: i32 = 1000;

/// How long the writer is let in: long enough for one transaction to begin.
const PAUSE: Duration = Duration::from_millis(1);

impl Store {
    /// Copies the data to a file that must not exist yet, and checks the copy. Blocks until done.
    /// Data on a server is written to a file of the embedded database, which can be looked at and
    /// tried out as any other copy.
    ///
    /// # Errors
    /// When the file exists or cannot be written, or the copy proves damaged.
    pub fn backup(&self, to: &Path) -> Result<(), StoreError> {
        if to.exists() {
            let source = std::io::ErrorKind::AlreadyExists.into();
            return Err(StoreError::Folder { path: to.to_owned(), source });
        }
        self.read_blocking(|view| {
            made_whole(to, self.key(), |unfinished| match view.connection {
                Connection::Sqlite(from) => copy(from, unfinished),
                from @ Connection::Postgres(_) => write_out(from, unfinished),
            })
        })
    }
}

/// Has a database file made beside its place, and puts it there once it is on the disk.
pub(super) fn made_whole(
    to: &Path,
    key: Option<&DataKey>,
    make: impl FnOnce(&DataFile) -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    let refused = |source| StoreError::Folder { path: to.to_owned(), source };
    let mut unfinished = to.as_os_str().to_owned();
    unfinished.push(".unfinished");
    let unfinished = DataFile::new(unfinished, key);
    let _ = fs::remove_file(&unfinished.path);
    super::folder::private_file(&unfinished.path)?;
    make(&unfinished)?;
    File::open(&unfinished.path).and_then(|file| file.sync_all()).map_err(refused)?;
    fs::rename(&unfinished.path, to).map_err(refused)?;
    let folder = to.parent().filter(|parent| !parent.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))
        .and_then(|folder| folder.sync_all())
        .map_err(refused)
}

impl View<'_> {
    /// Checks the whole database file, its indexes and its references. Takes about as long as
    /// reading the file does. A server guards its files itself (data checksums, pg_amcheck).
    ///
    /// # Errors
    /// `Damaged` with the first finding.
    pub fn check_integrity(&self) -> Result<(), StoreError> {
        self.connection.sqlite().map_or(Ok(()), check_file)
    }
}

/// The whole file, its indexes and its references.
fn check_file(file: &rusqlite::Connection) -> Result<(), StoreError> {
    check(file, "PRAGMA integrity_check(1)")?;
    let dangling = file
        .prepare("PRAGMA foreign_key_check")
        .and_then(|mut check| check.exists([]))
        .doing("checking the database")?;
    if dangling {
        return Err(StoreError::Damaged { finding: "a record refers to a missing one".into() });
    }
    Ok(())
}

/// The quick check at the start: the file's structure, not each index against its table.
pub(super) fn quick_check(connection: &rusqlite::Connection) -> Result<(), StoreError> {
    check(connection, "PRAGMA quick_check(1)")
}

fn check(connection: &rusqlite::Connection, pragma: &str) -> Result<(), StoreError> {
    let finding: String =
        connection.query_row(pragma, [], |row| row.get(0)).doing("checking the database")?;
    if finding == "ok" { Ok(()) } else { Err(StoreError::Damaged { finding }) }
}

fn copy(from: &rusqlite::Connection, unfinished: &DataFile) -> Result<(), StoreError> {
    let mut to = connection::open_for_writing(unfinished)?;
    Backup::new(from, &mut to)
        .and_then(|backup| backup.run_to_completion(PAGES_AT_ONCE, PAUSE, None))
        .doing("copying the database")?;
    finish(to)
}

pub(super) fn write_out(from: &Connection, unfinished: &DataFile) -> Result<(), StoreError> {
    let mut to = connection::open_for_writing(unfinished)?;
    schema::migrate(&mut to, unfinished)?;
    moving::write_out(from, &mut to)?;
    finish(to)
}

fn finish(to: rusqlite::Connection) -> Result<(), StoreError> {
    // A copy is one file: no log beside it that could be left behind.
    to.pragma_update(None, "journal_mode", "DELETE").doing("copying the database")?;
    check_file(&to)
}
