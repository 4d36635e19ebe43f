//! What a data folder holds, read by the store's own library while or after a service runs.
//!
//! Never here: writing.

use std::path::Path;

use fadewatch::follow_up::{Event, State};
use fadewatch::store::{FollowUpId, JournalLine, Mode, Store, StoreError, View};

/// Reads from a data folder.
pub fn read<T>(data: &Path, look: impl FnOnce(&View<'_>) -> Result<T, StoreError>) -> T {
    let store = Store::open(data, Mode::Reading).unwrap();
    store.read_blocking(look).unwrap()
}

/// The one follow-up of a clinic with a client `A7`.
pub fn follow_up(view: &View<'_>) -> Result<FollowUpId, StoreError> {
    let client = fadewatch::care::ClientRef::new("A7").unwrap();
    view.follow_up_of(&client).map(|found| found.expect("A7 is enrolled"))
}

/// The journal of the client `A7`.
pub fn journal(data: &Path) -> Vec<JournalLine> {
    read(data, |view| view.journal_of(follow_up(view)?))
}

/// The state of the client `A7`.
pub fn state(data: &Path) -> State {
    read(data, |view| Ok(view.load(follow_up(view)?)?.state))
}

/// How many entries of the journal of `A7` are like this.
pub fn count(data: &Path, is_like: impl Fn(&Event) -> bool) -> usize {
    journal(data).iter().filter(|line| is_like(&line.entry.event)).count()
}

/// The journal is whole, and the state is what it adds up to.
pub fn check(data: &Path) {
    let verification = read(data, |view| view.verify_journal());
    assert_eq!(verification.findings, [], "the journal was changed");
    assert!(verification.entries > 0);
    assert!(read(data, |view| view.is_state_as_journalled(follow_up(view)?)));
    let store = Store::open(data, Mode::Reading).unwrap();
    let (waiting, _) = store.read_blocking(|view| view.received_waiting()).unwrap();
    assert_eq!(waiting, 0, "mail was not worked through");
}

/// How a mail of the inbox was filed, for each, oldest first: status and note.
pub fn inbox(data: &Path) -> Vec<(String, String)> {
    let path = data.join("fadewatch.db");
    let flags = rusqlite::OpenFlags::SQLITE_OPEN_READ_ONLY;
    let database = rusqlite::Connection::open_with_flags(path, flags).unwrap();
    let mut select = database.prepare("SELECT status, note FROM inbox ORDER BY id").unwrap();
    select
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap()
}
