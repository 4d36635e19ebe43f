//! Read-only connections, opened as they are needed and kept for the next reader.
//!
//! Never here: writing.
//! Promises: a reader sees one moment, also while a transaction is being written.

use std::sync::{Mutex, MutexGuard, PoisonError};

use super::connection::{self, Source};
use super::database::{Connection, For};
use super::error::{Doing, StoreError};
use super::view::View;

/// Connections kept open while nobody reads; more readers at once open more.
const KEPT_MAX: usize = 4;

/// The readers of one process.
pub(super) struct Readers {
    source: Source,
    idle: Mutex<Vec<Connection>>,
}

impl Readers {
    /// Readers of a database.
    pub(super) fn of(source: Source) -> Self {
        Self { source, idle: Mutex::new(Vec::new()) }
    }

    /// Runs work on a view; blocks for as long as the work takes.
    pub(super) fn read<T, E: From<StoreError>>(
        &self,
        work: impl FnOnce(&View<'_>) -> Result<T, E>,
    ) -> Result<T, E> {
        let idle = self.lock().pop().filter(|connection| !connection.is_lost());
        let mut connection = match idle {
            Some(connection) => connection,
            None => connection::open_for_reading(&self.source)?,
        };
        let moment = connection.transaction(For::Reading).doing("beginning to read")?;
        let value = work(&View::over(&moment));
        drop(moment);
        let mut idle = self.lock();
        if idle.len() < KEPT_MAX && !connection.is_lost() {
            idle.push(connection);
        }
        value
    }

    /// Closes the connections that nobody uses.
    pub(super) fn close(&self) {
        self.lock().clear();
    }

    fn lock(&self) -> MutexGuard<'_, Vec<Connection>> {
        self.idle.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
