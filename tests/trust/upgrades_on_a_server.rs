//! Databases of released formats on a server: taken in, brought up to date, and their record unchanged to
//! the byte. A format of a server has a number of its own.
//!
//! Never here: making the fixtures: each is a dump of what the version made that first wrote its format,
//! and is never edited. A new format adds one:
//!   FADEWATCH_WRITE_FIXTURE=1 cargo test --test trust a_server_of_the_present_format

use std::path::PathBuf;

use fadewatch::store::{Mode, Store};

use crate::server::Schema;
use crate::upgrades::fixtures;
use crate::upgrades::{WAITING_MAIL, holds_all, is_refused_as_newer};
use crate::world::World;

/// The name that stands for the place of the data in a dump.
const PLACE: &str = "fixture_of_a_released_format";

/// All fixtures with their format's number.
fn all() -> Vec<(usize, PathBuf)> {
    let mut found: Vec<(usize, PathBuf)> = std::fs::read_dir(fixtures())
        .unwrap()
        .filter_map(|entry| {
            let path = entry.unwrap().path();
            let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
            Some((stem.strip_prefix("server-format-")?.parse().unwrap(), path))
        })
        .collect();
    found.sort();
    found
}

fn taken_in(fixture: &PathBuf) -> Schema {
    let schema = Schema::new();
    schema.take_in(&std::fs::read_to_string(fixture).unwrap(), PLACE);
    schema
}

/// Every value of the record, in order, past our own program: entries and what made them.
fn record(schema: &Schema) -> Vec<String> {
    ["SELECT * FROM journal ORDER BY seq", "SELECT * FROM occasion ORDER BY id"]
        .into_iter()
        .flat_map(|sql| schema.asked(sql).unwrap().lines().map(str::to_owned).collect::<Vec<_>>())
        .collect()
}

fn format_of(schema: &Schema) -> usize {
    schema.asked("SELECT format FROM fadewatch_format").unwrap().trim().parse().unwrap()
}

#[test]
fn a_server_of_every_released_format_opens_and_keeps_its_record_to_the_byte() {
    let fixtures = all();
    assert!(!fixtures.is_empty());
    for (format, fixture) in fixtures {
        let schema = taken_in(&fixture);
        assert_eq!(format_of(&schema), format, "{}", fixture.display());
        let (before, waiting) = (record(&schema), schema.asked(WAITING_MAIL).unwrap());
        assert!(before.len() > 20 && waiting.lines().count() > 20);
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open_on(&schema.server(), folder.path(), Mode::Service).unwrap();
        holds_all(&store);
        store.close();
        assert_eq!(record(&schema), before, "format {format}: the record was changed");
        assert_eq!(schema.asked(WAITING_MAIL).unwrap(), waiting, "format {format}");
    }
}

#[test]
fn a_server_of_the_present_format_is_among_the_fixtures() {
    let world = World::busy();
    let copy = world.path("copy.db");
    world.store.backup(&copy).unwrap();
    world.store.close();
    let schema = Schema::new();
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open_on(&schema.server(), folder.path(), Mode::Service).unwrap();
    store.load_copy(&copy, None).unwrap();
    store.close();
    let fixture = fixtures().join(format!("server-format-{}.sql", format_of(&schema)));
    if std::env::var_os("FADEWATCH_WRITE_FIXTURE").is_some() {
        assert!(!fixture.exists(), "a fixture is never made again");
        std::fs::write(&fixture, schema.dumped_as(PLACE)).unwrap();
    }
    assert!(fixture.exists(), "run FADEWATCH_WRITE_FIXTURE=1 as the door-plate says");
}

#[test]
fn an_older_program_refuses_a_newer_server_and_touches_nothing() {
    let (format, fixture) = all().pop().unwrap();
    let schema = taken_in(&fixture);
    schema.run(&format!("UPDATE fadewatch_format SET format = {}", format + 1)).unwrap();
    let before = schema.dumped_as(PLACE);
    let folder = tempfile::tempdir().unwrap();
    for mode in [Mode::Service, Mode::Command, Mode::Reading] {
        let refused = Store::open_on(&schema.server(), folder.path(), mode).unwrap_err();
        is_refused_as_newer(&refused, format + 1);
    }
    assert!(schema.dumped_as(PLACE) == before, "it was touched");
}
