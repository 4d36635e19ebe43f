//! Folds the write-ahead log into the database on a thread of its own, beside the writer: what was
//! committed is safe in the log already, and whoever waits for the writer need not wait for that too.
//!
//! Never here: what is written; the databases on a server, which keep their own logs.
//! Promises: a commit never waits for it and never fails by it; the log stays bounded, since the
//! writer folds it in by itself where it has grown too long.

use std::sync::mpsc::{SyncSender, sync_channel};
use std::thread::JoinHandle;

use rusqlite::hooks::Wal;

use super::connection;
use super::data_key::DataFile;
use super::error::{Doing, StoreError};

/// Pages of the log from which on it is folded in: as many as SQLite itself takes.
const FOLDED_FROM_PAGES: i32 = 1000;

/// Pages of the log, 64 MiB, from which on the writer does it: a crowd may commit faster than it is
/// folded in, and the log begins anew only once all of it has been.
const LOG_PAGES_MAX: i32 = 16 * 1024;

/// The thread that folds.
pub(super) struct Folding {
    orders: SyncSender<Order>,
    thread: JoinHandle<()>,
}

enum Order {
    Fold,
    End,
}

impl Folding {
    /// Sets a thread to fold what a connection commits, in the place of that connection.
    pub(super) fn beside(
        writer: &mut rusqlite::Connection,
        file: &DataFile,
    ) -> Result<Self, StoreError> {
        let connection = connection::open_for_writing(file)?;
        connection::settle_writer(&connection)?;
        // One order is enough: it is about all that there is by then.
        let (orders, ordered) = sync_channel(1);
        let thread = std::thread::Builder::new()
            .name("store-folding".to_owned())
            .spawn(move || {
                while let Ok(Order::Fold) = ordered.recv() {
                    fold(&connection);
                }
            })
            .map_err(|source| StoreError::NoThread { source })?;
        let folding = orders.clone();
        let after_commit = move |log: &mut Wal, pages: i32| {
            if pages >= LOG_PAGES_MAX {
                // Busy is no harm, nor is a failure: all of it is still in the log.
                if let Err(error) = log.checkpoint() {
                    tracing::debug!(%error, "the write-ahead log was not folded in");
                }
            } else if pages >= FOLDED_FROM_PAGES {
                // Full or ended: it is about to be done, or by whoever closes the database.
                let _ = folding.try_send(Order::Fold);
            }
            Ok(())
        };
        writer.wal_hook(Some(after_commit)).doing("opening the database")?;
        Ok(Self { orders, thread })
    }

    /// Ends the thread, once it has done what it was told. What is committed from then on is folded in
    /// by whoever closes the database.
    pub(super) fn end(self) {
        // Where it has ended by itself there is nothing to end.
        let _ = self.orders.send(Order::End);
        if self.thread.join().is_err() {
            tracing::error!("the thread that folds the write-ahead log in has failed");
        }
    }
}

/// As much as can be folded in while others read and write.
fn fold(connection: &rusqlite::Connection) {
    let folded = connection.query_row("PRAGMA wal_checkpoint(PASSIVE)", [], |_| Ok(()));
    if let Err(error) = folded {
        tracing::warn!(%error, "the write-ahead log could not be folded in");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE_BYTES: usize = 4096;

    #[test]
    fn a_long_log_is_folded_in_beside_the_one_who_writes_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.db");
        std::fs::write(&path, b"").unwrap();
        let file = DataFile::new(&path, None);
        let mut writer = connection::open_for_writing(&file).unwrap();
        connection::settle_writer(&writer).unwrap();
        writer.execute_batch("CREATE TABLE a (b BLOB)").unwrap();
        let size = || std::fs::metadata(&path).unwrap().len();
        let before = size();
        let folding = Folding::beside(&mut writer, &file).unwrap();
        let bytes = usize::try_from(FOLDED_FROM_PAGES).unwrap() * PAGE_BYTES;
        writer.execute("INSERT INTO a VALUES (zeroblob(?1))", [bytes as i64]).unwrap();
        folding.end();
        // The writer has not closed yet, and folds nothing in by itself.
        assert!(size() >= before + bytes as u64, "{} of {bytes}", size());
        writer.execute("INSERT INTO a VALUES (zeroblob(1))", []).unwrap();
        let rows: i64 = writer.query_row("SELECT count(*) FROM a", [], |row| row.get(0)).unwrap();
        assert_eq!(rows, 2);
    }
}
