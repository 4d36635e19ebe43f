//! An open store: how it comes to be open, and the doors for reading and writing.
//!
//! Never here: what is read or written, SQL of tables.
//! Promises: what `write` returned as done is on the disk; a failed `write` has changed nothing.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use tokio::sync::watch;

use super::bell;
use super::connection::{self, Source};
use super::data_key::{DataFile, DataKey};
use super::database::{Connection, Server};
use super::error::{Doing, StoreError};
use super::folder::{self, DATABASE, ServiceLock};
use super::folding::Folding;
use super::ids::to_ms;
use super::readers::Readers;
use super::schema::{self, postgres};
use super::view::{Tx, View};
use super::writer::Writer;
use crate::follow_up::Instant;

/// A database larger than this is not checked while opening but by `check_integrity` later on, so
/// that a large clinic's service is ready within a second (a quick check reads the whole file).
const CHECKED_AT_OPEN_BYTES_MAX: u64 = 64 * 1024 * 1024;

/// Hosts that take over from each other must agree on the time; those that keep it by NTP do so well
/// within this (common practice, no source).
const CLOCKS_MAY_DIFFER_MS: i64 = 5_000;

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
    key: Option<DataKey>,
    server: Option<Server>,
    writer: Option<Writer>,
    readers: Readers,
    /// Turns true when the writer's session on the server is lost.
    loss: Option<watch::Receiver<bool>>,
    /// Whether we end the session ourselves, which is no loss.
    is_closing: AtomicBool,
}

impl Store {
    /// Opens the data folder.
    ///
    /// # Errors
    /// When the folder or the file cannot be used, the file is not ours, damaged or of a newer
    /// version, or (reading only) it is missing or of an older version.
    pub fn open(folder: &Path, mode: Mode) -> Result<Self, StoreError> {
        Self::open_folder(folder, None, mode)
    }

    /// Opens a data folder whose database is encrypted, or is to be where there is none yet.
    ///
    /// # Errors
    /// As `open`; and when the database is not encrypted, or not with this key.
    pub fn open_encrypted(folder: &Path, key: &DataKey, mode: Mode) -> Result<Self, StoreError> {
        Self::open_folder(folder, Some(key), mode)
    }

    fn open_folder(folder: &Path, key: Option<&DataKey>, mode: Mode) -> Result<Self, StoreError> {
        let file = DataFile::new(folder.join(DATABASE), key);
        let writer = match mode {
            Mode::Reading => {
                check_readable(folder, &file)?;
                None
            }
            Mode::Service => Some(open_writer(folder, &file, mode, None)?),
            Mode::Command => {
                let rung = folder.to_owned();
                let ring = move || {
                    if let Err(error) = bell::ring(&rung) {
                        tracing::warn!(%error, "the service was not told of a command's work");
                    }
                };
                Some(open_writer(folder, &file, mode, Some(Box::new(ring)))?)
            }
        };
        Ok(Self::in_file(folder, file, writer))
    }

    /// Opens the data on a database server, which several processes may share; the folder holds
    /// what is this host's alone.
    ///
    /// # Errors
    /// When the server cannot be reached or loses what it keeps, the folder cannot be used, or the
    /// database is not ours, of a newer version, or (reading only) missing or of an older version.
    pub fn open_on(server: &Server, folder: &Path, mode: Mode) -> Result<Self, StoreError> {
        let mut session = connection::open_session(server)?;
        let (mut writer, mut loss) = (None, None);
        if mode == Mode::Reading {
            let found = postgres::check(&Connection::Postgres(session), server)?;
            let known = postgres::known_format();
            let path = PathBuf::from(server.to_string());
            match found {
                0 => return Err(StoreError::Missing { path }),
                found if found < known => return Err(StoreError::Older { path, found, known }),
                _ => {}
            }
        } else {
            folder::prepare(folder)?;
            if mode == Mode::Command {
                session.ring_each_commit();
            }
            loss = Some(session.loss());
            let mut connection = Connection::Postgres(session);
            postgres::check(&connection, server)?;
            postgres::check_durable(&connection, server)?;
            postgres::migrate(&mut connection, server)?;
            writer = Some(Writer::start(connection, None, None)?);
        }
        let readers = Readers::of(Source::Server(server.clone()));
        Ok(Self::of(folder, None, Some(server.clone()), writer, readers, loss))
    }

    /// Opens a copy of the data, wherever it lies and whatever its name, to look at it only.
    ///
    /// # Errors
    /// When the file is not ours, damaged, of another version, or encrypted with another key. A copy
    /// that is not encrypted needs no key.
    pub fn open_copy(file: &Path, key: Option<&DataKey>) -> Result<Self, StoreError> {
        let folder = file.parent().unwrap_or(Path::new("")).to_owned();
        let file = DataFile::copy(file, key);
        check_readable(&folder, &file)?;
        Ok(Self::in_file(&folder, file, None))
    }

    fn in_file(folder: &Path, file: DataFile, writer: Option<Writer>) -> Self {
        let key = file.key.clone();
        let readers = Readers::of(Source::File(file));
        Self::of(folder, key, None, writer, readers, None)
    }

    fn of(
        folder: &Path,
        key: Option<DataKey>,
        server: Option<Server>,
        writer: Option<Writer>,
        readers: Readers,
        loss: Option<watch::Receiver<bool>>,
    ) -> Self {
        let folder = folder.to_owned();
        let is_closing = AtomicBool::new(false);
        Self { inner: Arc::new(Inner { folder, key, server, writer, readers, loss, is_closing }) }
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

    /// The key of the database file, where it is encrypted.
    pub fn key(&self) -> Option<&DataKey> {
        self.inner.key.as_ref()
    }

    /// The server that the data is on, where it is on one.
    pub fn server(&self) -> Option<&Server> {
        self.inner.server.as_ref()
    }

    /// Tries to become the one service that works on the data, among all processes that share it.
    /// It stays so until this store is closed or its connection lost: every write of ours goes over
    /// the very session that holds the place, so that nothing is written by one who has lost it.
    /// In a data folder that is settled by `lock_for_service`. Blocks.
    ///
    /// # Errors
    /// When the server cannot be asked, its clock differs from `now`, or a newer version has changed
    /// the data meanwhile.
    pub fn try_to_lead(&self, now: Instant) -> Result<bool, StoreError> {
        let Some(server) = self.inner.server.clone() else { return Ok(true) };
        self.writer()?.ask(move |connection| {
            let Some(session) = connection.postgres() else { return Ok(true) };
            let doing = "looking whether another service works";
            let by_ms = to_ms(now) - session.now_ms().doing(doing)?;
            if by_ms.abs() > CLOCKS_MAY_DIFFER_MS {
                return Err(StoreError::ClocksDiffer { by_ms });
            }
            let leads = session.try_lead().doing(doing)?;
            if leads {
                postgres::check(connection, &server)?;
            }
            Ok(leads)
        })?
    }

    /// Whether this process is still the one service that works on the data, so far as the server says
    /// at this moment, over the very session that holds the place. Always so for a data folder.
    pub async fn still_leads(&self) -> bool {
        if self.server().is_none() {
            return true;
        }
        let Ok(writer) = self.writer() else { return false };
        let answered = writer.ask_from_async(|connection| {
            connection.postgres().is_some_and(|session| session.now_ms().is_ok())
        });
        answered.await.unwrap_or(false)
    }

    /// Completes when nothing can be written any more because the server is out of reach; never
    /// for a data folder. Whoever leads must end then and begin anew.
    pub async fn lost(&self) {
        let ended = match self.inner.loss.clone() {
            Some(mut loss) => loss.wait_for(|is_lost| *is_lost).await.is_ok(),
            None => false,
        };
        if !ended || self.inner.is_closing.load(Ordering::Relaxed) {
            std::future::pending::<()>().await;
        }
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
        self.is_closing.store(true, Ordering::Relaxed);
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
    file: &DataFile,
    mode: Mode,
    after_commit: Option<Box<dyn Fn() + Send + Sync>>,
) -> Result<Writer, StoreError> {
    folder::prepare(folder)?;
    bell::prepare(folder)?;
    folder::prepare_database(folder)?;
    let mut connection = connection::open_for_writing(file)?;
    schema::check(&connection, file)?;
    connection::settle_writer(&connection)?;
    schema::migrate(&mut connection, file)?;
    let size = std::fs::metadata(&file.path)
        .map_err(|source| StoreError::Folder { path: file.path.clone(), source })?
        .len();
    if mode == Mode::Service && size <= CHECKED_AT_OPEN_BYTES_MAX {
        super::backup::quick_check(&connection)?;
    }
    // A command ends before its log is long.
    let folding = (mode == Mode::Service).then(|| Folding::beside(&mut connection, file));
    Writer::start(Connection::Sqlite(connection), folding.transpose()?, after_commit)
}

fn check_readable(folder: &Path, file: &DataFile) -> Result<(), StoreError> {
    let path = &file.path;
    if !path.exists() {
        return Err(StoreError::Missing { path: folder.to_owned() });
    }
    let connection = connection::open_file_for_reading(file)?;
    let found = schema::check(&connection, file)?;
    let known = schema::known_format();
    if found < known {
        return Err(StoreError::Older { path: path.to_owned(), found, known });
    }
    connection.close().map_err(|(_, error)| error).doing("opening the database for reading")
}
