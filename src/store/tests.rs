//! Tests that need what the room does not show.

use crate::follow_up::Instant;

use super::{Mode, Place, Store, StoreError};

fn some_instant() -> Instant {
    super::ids::from_ms(1_800_000_000_000).expect("OK because it is in this century")
}

/// Puts a mail of a given size in.
fn put(store: &Store, fill: u8, bytes: usize) -> Result<bool, StoreError> {
    store.write_blocking(move |tx| {
        let raw = vec![fill; bytes];
        Ok(tx.put_received(Place::by_bytes(&raw), &raw, some_instant())?.is_some())
    })
}

/// Lets the database grow by so many pages and no more, as a disk that fills up would.
fn leave_room(store: &Store, pages: i64) {
    store
        .write_blocking(move |tx| {
            let file = tx.connection.sqlite().unwrap();
            let used: i64 = file.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
            file.pragma_update_and_check(None, "max_page_count", used + pages, |_| Ok(())).unwrap();
            Ok::<_, StoreError>(())
        })
        .unwrap();
}

#[test]
fn a_full_disk_takes_the_transaction_back_whole_and_the_store_goes_on_once_there_is_room() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path(), Mode::Service).unwrap();
    assert!(put(&store, 1, 1000).unwrap());
    leave_room(&store, 3);
    let refused = put(&store, 2, 100_000).unwrap_err();
    assert!(matches!(refused, StoreError::Full { .. }), "{refused:?}");
    assert_eq!(refused.to_string(), "no room is left on the disk for putting mail in the inbox");
    assert!(refused.help().contains("all that was there before is safe"));
    let (waiting, _) = store.read_blocking(|view| view.received_waiting()).unwrap();
    assert_eq!(waiting, 1);
    store.read_blocking(|view| view.check_integrity()).unwrap();
    leave_room(&store, 1_000_000);
    assert!(put(&store, 2, 100_000).unwrap());
}

#[test]
fn a_database_kept_locked_by_another_process_is_reported_as_busy() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path(), Mode::Service).unwrap();
    let other = rusqlite::Connection::open(folder.path().join(super::DATABASE)).unwrap();
    store
        .write_blocking(|tx| {
            tx.connection
                .sqlite()
                .unwrap()
                .busy_timeout(std::time::Duration::from_millis(1))
                .unwrap();
            Ok::<_, StoreError>(())
        })
        .unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let refused = put(&store, 1, 10).unwrap_err();
    assert!(matches!(refused, StoreError::Busy { .. }), "{refused:?}");
    other.execute_batch("COMMIT").unwrap();
    assert!(put(&store, 1, 10).unwrap());
}

#[test]
fn no_row_that_is_written_makes_sqlite_make_a_table_of_its_own_for_a_check() {
    let folder = tempfile::tempdir().unwrap();
    Store::open(folder.path(), Mode::Service).unwrap().close();
    let file = rusqlite::Connection::open(folder.path().join(super::DATABASE)).unwrap();
    let all = |sql: &str, column: usize| -> Vec<String> {
        let mut select = file.prepare(sql).unwrap();
        let rows = select.query_map([], |row| row.get(column)).unwrap();
        rows.collect::<rusqlite::Result<_>>().unwrap()
    };
    let tables = all("SELECT name FROM sqlite_schema WHERE type = 'table' AND sql <> ''", 0);
    assert!(tables.len() > 10);
    for table in tables {
        let steps = all(&format!("EXPLAIN INSERT INTO {table} DEFAULT VALUES"), 1);
        assert!(steps.contains(&"Halt".to_owned()));
        assert!(!steps.contains(&"OpenEphemeral".to_owned()), "{table}: an IN with three or more");
    }
}
