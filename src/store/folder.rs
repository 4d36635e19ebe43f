//! The data folder: made closed to others, checked, and held by one service at a time.
//!
//! Never here: what is inside the database.
//! Promises: the folder is 0700 and the database 0600; a folder that holds somebody else's files
//! is never closed to them; the service lock ends with the process, however it ends.

use std::fs::{self, DirBuilder, File, OpenOptions, Permissions, TryLockError};
use std::io;
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt, PermissionsExt};
use std::path::{Path, PathBuf};

use super::error::StoreError;

/// The database's name in the data folder.
pub const DATABASE: &str = "fadewatch.db";

/// The name of the file whose lock a running service holds.
const SERVICE_LOCK: &str = "service.lock";

/// Others' bits of a file mode.
const OPEN_TO_OTHERS: u32 = 0o077;

/// Held by the one service that runs on a data folder; given back when dropped.
#[derive(Debug)]
pub struct ServiceLock {
    _file: File,
}

/// Takes the folder for a service.
///
/// # Errors
/// When another service holds it, or the folder cannot be used.
pub(super) fn lock_for_service(folder: &Path) -> Result<ServiceLock, StoreError> {
    prepare(folder)?;
    let path = folder.join(SERVICE_LOCK);
    let file = private_file(&path)?;
    match file.try_lock() {
        Ok(()) => Ok(ServiceLock { _file: file }),
        Err(TryLockError::WouldBlock) => {
            Err(StoreError::ServiceRunning { path: folder.to_owned() })
        }
        Err(TryLockError::Error(source)) => Err(StoreError::Folder { path, source }),
    }
}

/// Makes the folder where it is missing, and closes it to other users.
pub(super) fn prepare(folder: &Path) -> Result<(), StoreError> {
    match fs::metadata(folder) {
        Ok(found) if !found.is_dir() => {
            Err(refused(folder, io::Error::from(io::ErrorKind::NotADirectory)))
        }
        Ok(found) => close_to_others(folder, &found.permissions()),
        Err(error) if error.kind() == io::ErrorKind::NotFound => DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(folder)
            .map_err(|source| refused(folder, source)),
        Err(source) => Err(refused(folder, source)),
    }
}

/// Makes the database file where it is missing, so that it is never open to others, not even for
/// a moment.
pub(super) fn prepare_database(folder: &Path) -> Result<PathBuf, StoreError> {
    let path = folder.join(DATABASE);
    private_file(&path)?;
    Ok(path)
}

pub(super) fn private_file(path: &Path) -> Result<File, StoreError> {
    OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .mode(0o600)
        .open(path)
        .map_err(|source| refused(path.parent().unwrap_or(path), source))
}

fn close_to_others(folder: &Path, permissions: &Permissions) -> Result<(), StoreError> {
    if permissions.mode() & OPEN_TO_OTHERS == 0 {
        return Ok(());
    }
    let is_empty = fs::read_dir(folder).map_err(|source| refused(folder, source))?.next().is_none();
    if !is_empty && !folder.join(DATABASE).exists() {
        return Err(StoreError::FolderNotOurs { path: folder.to_owned() });
    }
    fs::set_permissions(folder, Permissions::from_mode(0o700))
        .map_err(|source| refused(folder, source))
}

pub(super) fn refused(folder: &Path, source: io::Error) -> StoreError {
    match source.kind() {
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
            StoreError::FolderReadOnly { path: folder.to_owned() }
        }
        io::ErrorKind::StorageFull => StoreError::Full { doing: "making the data folder" },
        _ => StoreError::Folder { path: folder.to_owned(), source },
    }
}
