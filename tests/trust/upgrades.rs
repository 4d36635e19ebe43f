//! Databases of released formats: opened, brought up to date, and their record unchanged to the byte.
//!
//! Never here: making the fixtures: each was made by the version that first wrote its format, and is
//! never edited. A new format adds one:
//!   FADEWATCH_WRITE_FIXTURE=1 cargo test --test trust a_database_of_the_present_format

use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

use fadewatch::store::{DATABASE, Mode, Store, StoreError};
use rusqlite::{Connection, OpenFlags};
use tempfile::TempDir;

use crate::world::World;

pub fn fixtures() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/trust/formats")
}

/// All fixtures with their format's number.
fn all() -> Vec<(u32, PathBuf)> {
    let mut found: Vec<(u32, PathBuf)> = std::fs::read_dir(fixtures())
        .unwrap()
        .filter_map(|entry| {
            let path = entry.unwrap().path();
            let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
            Some((stem.strip_prefix("format-")?.parse().unwrap(), path))
        })
        .collect();
    found.sort();
    found
}

/// A data folder with a copy of a fixture in it.
fn unpacked(fixture: &Path) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::DirBuilder::new().mode(0o700).create(folder.path().join("data")).unwrap();
    std::fs::copy(fixture, folder.path().join("data").join(DATABASE)).unwrap();
    folder
}

/// What mail that has not ended is sent with.
pub const WAITING_MAIL: &str = "SELECT id, sender, address, message_id, raw
    FROM outbox JOIN outbox_mail ON outbox = id WHERE ended_at_utc_ms IS NULL ORDER BY id";

/// Every value of the record, in order: entries and what made them.
fn record(path: &Path) -> Vec<String> {
    all_of(path, &["SELECT * FROM journal ORDER BY seq", "SELECT * FROM occasion ORDER BY id"])
}

fn all_of(path: &Path, selects: &[&str]) -> Vec<String> {
    let database = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
    selects
        .iter()
        .flat_map(|sql| {
            let mut select = database.prepare(sql).unwrap();
            let columns = select.column_count();
            let rows = select.query_map([], |row| {
                (0..columns).map(|at| Ok(format!("{:?}", row.get_ref(at)?))).collect()
            });
            rows.unwrap().collect::<rusqlite::Result<Vec<Vec<String>>>>().unwrap()
        })
        .map(|row| row.join("|"))
        .collect()
}

fn format_of(path: &Path) -> u32 {
    let database = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
    database.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap()
}

/// Every fixture holds the same four follow-ups: their record verifies and gives their states.
pub fn holds_all(store: &Store) {
    store
        .read_blocking(|view| {
            assert_eq!(view.verify_journal()?.findings, []);
            let listed = view.follow_ups(None, 100)?;
            assert_eq!(listed.len(), 4);
            for listed in listed {
                assert!(view.is_state_as_journalled(listed.follow_up)?);
            }
            Ok::<_, StoreError>(())
        })
        .unwrap();
}

/// What opening data of a newer format says.
pub fn is_refused_as_newer(refused: &StoreError, format: impl std::fmt::Display) {
    assert!(matches!(refused, StoreError::Newer { .. }), "{refused}");
    assert!(refused.to_string().contains(&format!("data format {format}")));
    assert!(!refused.help().is_empty());
}

#[test]
fn a_database_of_every_released_format_opens_and_keeps_its_record_to_the_byte() {
    let fixtures = all();
    assert!(!fixtures.is_empty());
    for (format, fixture) in fixtures {
        let folder = unpacked(&fixture);
        let data = folder.path().join("data");
        let database = data.join(DATABASE);
        assert_eq!(format_of(&database), format, "{}", fixture.display());
        let (before, waiting) = (record(&database), all_of(&database, &[WAITING_MAIL]));
        assert!(before.len() > 20 && waiting.len() > 20);
        let store = Store::open(&data, Mode::Service).unwrap();
        store.read_blocking(|view| view.check_integrity()).unwrap();
        holds_all(&store);
        store.close();
        assert_eq!(record(&database), before, "format {format}: the record was changed");
        assert_eq!(all_of(&database, &[WAITING_MAIL]), waiting, "format {format}");
    }
}

#[test]
fn a_database_of_the_present_format_is_among_the_fixtures() {
    let world = World::busy();
    world.store.close();
    let made = world.path("data").join(DATABASE);
    let present = format_of(&made);
    let fixture = fixtures().join(format!("format-{present}.db"));
    if std::env::var_os("FADEWATCH_WRITE_FIXTURE").is_some() {
        assert!(!fixture.exists(), "a fixture is never made again");
        std::fs::create_dir_all(fixtures()).unwrap();
        std::fs::copy(&made, &fixture).unwrap();
    }
    assert!(fixture.exists(), "run FADEWATCH_WRITE_FIXTURE=1 as the door-plate says");
}

#[test]
fn an_older_program_refuses_a_newer_database_and_says_what_to_do() {
    let (format, fixture) = all().pop().unwrap();
    let folder = unpacked(&fixture);
    let path = folder.path().join("data").join(DATABASE);
    let database = Connection::open(&path).unwrap();
    database.pragma_update(None, "user_version", format + 1).unwrap();
    drop(database);
    let before = std::fs::read(&path).unwrap();
    for mode in [Mode::Service, Mode::Command, Mode::Reading] {
        let refused = Store::open(&folder.path().join("data"), mode).unwrap_err();
        is_refused_as_newer(&refused, format + 1);
    }
    assert_eq!(std::fs::read(&path).unwrap(), before, "it was touched");
}
