//! A clinic whose data is encrypted, and looks at its disk.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use rusqlite::Connection;

use crate::world::World;

/// The key of the tests, as it stands in a file.
pub const KEY: &str = "c0ffee5eedc0ffee5eedc0ffee5eedc0ffee5eedc0ffee5eedc0ffee5eedabcd";
/// Another.
pub const OTHER_KEY: &str = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef";
/// What stands in the record of `World::busy`, in its mails and in every plain file of the database.
pub const WORDS: [&str; 5] =
    ["robin@home.example", "Robin", "Please look at the skin", "ischium-left", "SQLite format 3"];

/// A running service; killed when it is dropped.
pub struct Running(pub Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A clinic with clients, its store closed, its data plain, and a key beside it.
pub fn plain() -> World {
    let world = World::busy();
    world.store.close();
    write_key(&world, "data-key", KEY);
    world
}

/// The same with its data encrypted.
pub fn encrypted() -> World {
    let world = plain();
    done(&world, &["backup", "plain.db"]);
    names_a_key(&world, "key_file = \"data-key\"");
    fs::remove_dir_all(world.path("data")).unwrap();
    done(&world, &["restore", "--load", "plain.db"]);
    fs::remove_file(world.path("plain.db")).unwrap();
    world
}

pub fn write_key(world: &World, name: &str, key: &str) {
    fs::write(world.path(name), format!("{key}\n")).unwrap();
    fs::set_permissions(world.path(name), fs::Permissions::from_mode(0o600)).unwrap();
}

/// Writes `[store]` anew; nothing: takes it out.
pub fn names_a_key(world: &World, setting: &str) {
    let path = world.path("clinic.toml");
    let clinic = fs::read_to_string(&path).unwrap();
    let clinic = clinic.split("\n[store]\n").next().unwrap().to_owned();
    let store = if setting.is_empty() { String::new() } else { format!("\n[store]\n{setting}\n") };
    fs::write(path, clinic + &store).unwrap();
}

/// Runs a command that must succeed.
pub fn done(world: &World, words: &[&str]) -> String {
    let ran = world.run(words);
    assert_eq!(ran.code, 0, "{words:?}: {}{}", ran.out, ran.err);
    ran.out
}

/// Starts the service and waits until it runs.
pub fn serve(world: &World) -> Running {
    let log = world.path("log");
    let child = Command::new(assert_cmd::cargo::cargo_bin!("fadewatch"))
        .args(["serve", "--config", "clinic.toml"])
        .current_dir(world.folder.path())
        .env("FADEWATCH_LOG", "trace")
        .env("RUST_BACKTRACE", "full")
        .stderr(File::create(&log).unwrap())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let running = Running(child);
    let begun = Instant::now();
    while !fs::read_to_string(&log).unwrap().contains("the service runs") {
        assert!(begun.elapsed() < Duration::from_secs(60), "{}", fs::read_to_string(&log).unwrap());
        std::thread::sleep(Duration::from_millis(50));
    }
    running
}

/// Every row of a database, table by table, past our own program.
pub fn rows(path: &Path, key: Option<&str>) -> BTreeMap<String, Vec<String>> {
    let database = Connection::open(path).unwrap();
    if let Some(key) = key {
        database.pragma_update(None, "key", format!("x'{key}'")).unwrap();
    }
    let tables: Vec<String> = database
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .map(Result::unwrap)
        .collect();
    let all = |table: &String| {
        let mut select = database.prepare(&format!("SELECT * FROM {table} ORDER BY 1, 2")).unwrap();
        let columns = select.column_count();
        let rows = select.query_map([], |row| {
            (0..columns).map(|at| Ok(format!("{:?}", row.get_ref(at)?))).collect()
        });
        let rows: rusqlite::Result<Vec<Vec<String>>> = rows.unwrap().collect();
        rows.unwrap().into_iter().map(|row| row.join("|")).collect()
    };
    tables.iter().map(|table| (table.clone(), all(table))).collect()
}

/// The bytes of each file in a folder, by name.
pub fn bytes(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap());
    let files = entries.filter(|entry| entry.path().is_file());
    files
        .map(|file| (file.file_name().into_string().unwrap(), fs::read(file.path()).unwrap()))
        .collect()
}

pub fn holds(bytes: &[u8], word: &str) -> bool {
    bytes.windows(word.len()).any(|part| part == word.as_bytes())
}
