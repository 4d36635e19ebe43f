//! The bell: how the service notices at once what other processes have committed.
//!
//! On a database server the server itself tells of it. Beside a data folder a command touches a file in its own small folder after each commit, and the service is told by
//! the system. The folder is watched, not the file, so that a deleted file does no harm; and it
//! is not the data folder, where each write of the database itself would ring.
//!
//! Never here: what was done (the service looks for itself).
//! Promises: no polling; rings that come while nobody listens are kept as one.

use std::fs::{DirBuilder, File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use notify::{RecommendedWatcher, RecursiveMode, Watcher};
use tokio::sync::{Mutex, Notify, watch};

use super::connection;
use super::database::{Server, Session};
use super::error::{Doing, StoreError};
use super::opened::Store;

const FOLDER: &str = "bell";
const FILE: &str = "rung";
/// How long to wait before a lost server is listened to again.
const DEAF: Duration = Duration::from_secs(2);

/// Tells the service on a data folder that something was committed.
///
/// # Errors
/// When the data folder cannot be written to.
pub fn ring(data_folder: &Path) -> Result<(), StoreError> {
    prepare(data_folder)?;
    touch(data_folder, |mut file| file.write_all(b"!"))
}

/// Hears the bell.
pub struct Listener {
    by: By,
}

enum By {
    File { heard: Arc<Notify>, _watcher: RecommendedWatcher },
    Server { server: Server, ear: Box<Mutex<Ear>> },
}

/// A session that hears what the server tells.
struct Ear {
    rung: watch::Receiver<u64>,
    _session: Session,
}

impl Ear {
    fn open(server: &Server) -> Result<Self, StoreError> {
        let session = connection::open_session(server)?;
        let rung = session.listen().doing("listening for the work of other commands")?;
        Ok(Self { rung, _session: session })
    }
}

impl Listener {
    /// Begins to listen for what other processes do in a store.
    ///
    /// # Errors
    /// When the system gives no watch on the folder, or the server cannot be asked.
    pub fn of(store: &Store) -> Result<Self, StoreError> {
        let Some(server) = store.server() else { return Self::new(store.folder()) };
        let ear = Box::new(Mutex::new(Ear::open(server)?));
        Ok(Self { by: By::Server { server: server.clone(), ear } })
    }

    /// Begins to listen.
    ///
    /// # Errors
    /// When the system gives no watch on the folder.
    pub fn new(data_folder: &Path) -> Result<Self, StoreError> {
        prepare(data_folder)?;
        let folder = data_folder.join(FOLDER);
        let refused = |source| StoreError::Bell { path: data_folder.to_owned(), source };
        let heard = Arc::new(Notify::new());
        let rung = Arc::clone(&heard);
        let mut watcher = notify::recommended_watcher(move |event: notify::Result<_>| {
            // An error of the watch rings too: better to look once too often than too seldom.
            if event.as_ref().map_or(true, is_a_ring) {
                rung.notify_one();
            }
        })
        .map_err(refused)?;
        watcher.watch(&folder, RecursiveMode::NonRecursive).map_err(refused)?;
        Ok(Self { by: By::File { heard, _watcher: watcher } })
    }

    /// Waits for the next ring, or returns at once when one came since the last call. Safe to
    /// drop and call again.
    pub async fn heard(&self) {
        match &self.by {
            By::File { heard, .. } => heard.notified().await,
            By::Server { server, ear } => {
                let mut ear = ear.lock().await;
                // While nothing can be heard, the bell counts as rung as soon as it can.
                while ear.rung.changed().await.is_err() {
                    tokio::time::sleep(DEAF).await;
                    let server = server.clone();
                    let opened = tokio::task::spawn_blocking(move || Ear::open(&server)).await;
                    if let Ok(Ok(opened)) = opened {
                        *ear = opened;
                        return;
                    }
                }
            }
        }
    }
}

/// Makes the bell where it is missing, so that each later ring is one change of one file.
pub(super) fn prepare(data_folder: &Path) -> Result<(), StoreError> {
    let folder = data_folder.join(FOLDER);
    match DirBuilder::new().mode(0o700).create(&folder) {
        Ok(()) => touch(data_folder, |_| Ok(())),
        Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Ok(()),
        Err(source) => Err(super::folder::refused(data_folder, source)),
    }
}

fn touch(data_folder: &Path, touch: impl Fn(File) -> io::Result<()>) -> Result<(), StoreError> {
    let path = data_folder.join(FOLDER).join(FILE);
    OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .mode(0o600)
        .open(&path)
        .and_then(touch)
        .map_err(|source| StoreError::Folder { path, source })
}

fn is_a_ring(event: &notify::Event) -> bool {
    event.kind.is_modify() || event.kind.is_create()
}
