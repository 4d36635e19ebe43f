//! An open store: how it comes to be open, and the doors for reading and writing.
//!
//! Never here: what is read or written, SQL of tables.
//! Promises: what `write` returned as done is on the disk; a failed `write` has changed nothing.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::bell;
use super::connection;
use super::error::{Doing, StoreError};
use super::folder::{self, DATABASE, ServiceLock};
use super::readers::Readers;
use super::schema;
use super::view::{Tx, View};
use super::writer::Writer;

/// A database larger than this is not checked while opening but by `check_integrity` later on, so
/// that a large clinic's service is ready within a second (a quick check reads the whole file).
const CHECKED_AT_OPEN_BYTES_MAX: u64 = 64 * 1024 * 1024;

/// What a store is opened for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// The service: makes the database or brings it up to date, and checks it.
    Service,
    /// A command that may write: the same without the check, and each of its commits rings the
    /// service's bell.
    Command,
    /// Reading only: the database must be there, in the present format.
    Reading,
}

/// An open store; clones share it.
#[derive(Clone)]
pub struct Store {
    inner: Arc<Inner>,
}

struct Inner {
    folder: PathBuf,
    writer: Option<Writer>,
    readers: Readers,
}

impl Store {
    /// Opens the data folder.
    ///
    /// # Errors
    /// When the folder or the file cannot be used, the file is not ours, damaged or of a newer
    /// version, or (reading only) it is missing or of an older version.
    pub fn open(folder: &Path, mode: Mode) -> Result<Self, StoreError> {
        let path = folder.join(DATABASE);
        let writer = match mode {
            Mode::Reading => {
                check_readable(folder, &path)?;
                None
            }
            Mode::Service => Some(open_writer(folder, mode, None)?),
            Mode::Command => {
                let rung = folder.to_owned();
                let ring = move || {
                    if let Err(error) = bell::ring(&rung) {
                        tracing::warn!(%error, "the service was not told of a command's work");
                    }
                };
                Some(open_writer(folder, mode, Some(Box::new(ring)))?)
            }
        };
        let readers = Readers::of(path);
        Ok(Self { inner: Arc::new(Inner { folder: folder.to_owned(), writer, readers }) })
    }

    /// Opens a copy of the data, wherever it lies and whatever its name, to look at it only.
    ///
    /// # Errors
    /// When the file is not ours, damaged, or of another version.
    pub fn open_copy(file: &Path) -> Result<Self, StoreError> {
        let folder = file.parent().unwrap_or(Path::new("")).to_owned();
        check_readable(&folder, file)?;
        let readers = Readers::of(file.to_owned());
        Ok(Self { inner: Arc::new(Inner { folder, writer: None, readers }) })
    }

    /// Takes the data folder for this process as its service, until the lock is dropped. The
    /// folder is made where it is missing.
    ///
    /// # Errors
    /// When another service runs on it, or the folder cannot be used.
    pub fn lock_for_service(folder: &Path) -> Result<ServiceLock, StoreError> {
        folder::lock_for_service(folder)
    }

    /// The data folder.
    pub fn folder(&self) -> &Path {
        &self.inner.folder
    }

    /// Runs work in one transaction on the writer thread: committed whole when the work returns
    /// `Ok`, else taken back whole. Dropping the future does not stop work that has been handed
    /// over.
    ///
    /// # Errors
    /// Those of the work; those of the disk at the commit; `Closed` after `close` and on a store
    /// that was opened for reading.
    ///
    /// # Panics
    /// When the work panics; its transaction is taken back.
    pub async fn write<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send + 'static,
    {
        self.writer()?.write(work).await
    }

    /// `write` for threads outside an async runtime.
    ///
    /// # Errors
    /// As `write`.
    ///
    /// # Panics
    /// When the work panics, or when called from within an async runtime.
    pub fn write_blocking<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Tx<'_>) -> Result<T, E> + Send + 'static,
    {
        self.writer()?.write_blocking(work)
    }

    /// Runs work on one moment of the data, on a thread for blocking work. It neither waits for
    /// the writer nor holds it up.
    ///
    /// # Errors
    /// Those of the work, or of opening and reading.
    ///
    /// # Panics
    /// When the work panics.
    pub async fn read<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&View<'_>) -> Result<T, E> + Send + 'static,
    {
        let inner = Arc::clone(&self.inner);
        match tokio::task::spawn_blocking(move || inner.readers.read(work)).await {
            Ok(result) => result,
            Err(failed) => match failed.try_into_panic() {
                Ok(panic) => std::panic::resume_unwind(panic),
                // The runtime is going down and has dropped the work before it began.
                Err(_) => Err(StoreError::Closed.into()),
            },
        }
    }

    /// `read` on the present thread.
    ///
    /// # Errors
    /// As `read`.
    pub fn read_blocking<T, E: From<StoreError>>(
        &self,
        work: impl FnOnce(&View<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        self.inner.readers.read(work)
    }

    /// Finishes what was handed over, folds the write-ahead log into the database and closes it.
    /// Blocks until that is done; later writes get `Closed`.
    pub fn close(&self) {
        self.inner.close();
    }

    fn writer(&self) -> Result<&Writer, StoreError> {
        self.inner.writer.as_ref().ok_or(StoreError::Closed)
    }
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Store").field("folder", &self.inner.folder).finish_non_exhaustive()
    }
}

impl Inner {
    fn close(&self) {
        self.readers.close();
        if let Some(writer) = &self.writer {
            writer.end();
        }
    }
}

impl Drop for Inner {
    fn drop(&mut self) {
        self.close();
    }
}

fn open_writer(
    folder: &Path,
    mode: Mode,
    after_commit: Option<Box<dyn Fn() + Send + Sync>>,
) -> Result<Writer, StoreError> {
    folder::prepare(folder)?;
    bell::prepare(folder)?;
    let path = folder::prepare_database(folder)?;
    let mut connection = connection::open_for_writing(&path)?;
    schema::check(&connection, &path)?;
    connection::settle_writer(&connection)?;
    schema::migrate(&mut connection, &path)?;
    let size = std::fs::metadata(&path)
        .map_err(|source| StoreError::Folder { path: path.clone(), source })?
        .len();
    if mode == Mode::Service && size <= CHECKED_AT_OPEN_BYTES_MAX {
        super::backup::quick_check(&connection)?;
    }
    Writer::start(connection, after_commit)
}

fn check_readable(folder: &Path, path: &Path) -> Result<(), StoreError> {
    if !path.exists() {
        return Err(StoreError::Missing { path: folder.to_owned() });
    }
    let connection = connection::open_for_reading(path)?;
    let found = schema::check(&connection, path)?;
    let known = schema::known_format();
    if found < known {
        return Err(StoreError::Older { path: path.to_owned(), found, known });
    }
    connection.close().map_err(|(_, error)| error).doing("opening the database for reading")
}
