//! A store of its own for each test, in a file or on a server, with a door for other hands.
//!
//! Never here: what is kept in it.
//! Promises: the tests that use it say nothing of which of the two it is.

use std::path::PathBuf;

use fadewatch::follow_up::Instant;
use fadewatch::store::{Appended, DATABASE, FollowUpId, Loaded, Mode, Store};
use tempfile::TempDir;

use crate::sample;
use crate::server::Schema;

/// Where a store is.
pub trait Host: Sized {
    fn new() -> Self;
    fn open(&self, mode: Mode) -> Store;

    /// A text by which another process finds it.
    fn told(&self) -> String;
    fn from_told(told: &str) -> Self;

    /// Lets somebody else at the data, past our program. Returns how many rows were changed.
    fn run(&self, sql: &str) -> Result<usize, String>;
    /// The same for somebody who has first taken every guard away.
    fn tamper(&self, sql: &str) -> usize;
    /// All bytes in which what is kept may lie, as far as they can be read.
    fn bytes(&self) -> Vec<u8>;
}

/// In a file.
pub struct InAFile(Folder);

/// In an encrypted file.
#[cfg(feature = "encryption")]
pub struct InAnEncryptedFile(InAFile);

/// The key of all encrypted files here.
#[cfg(feature = "encryption")]
const KEY: &str = "5eed5eed5eed5eed5eed5eed5eed5eed5eed5eed5eed5eed5eed5eed5eed5eed";

enum Folder {
    Own(TempDir),
    Known(PathBuf),
}

/// On a server.
pub struct OnAServer {
    folder: TempDir,
    schema: Schema,
}

/// A store of its own, gone at the end of the test.
pub struct Bench<H: Host> {
    pub host: H,
    pub store: Store,
}

impl<H: Host> Bench<H> {
    pub fn new() -> Self {
        let host = H::new();
        let store = host.open(Mode::Service);
        Self { host, store }
    }

    /// Closes the store, lets somebody else at the data, and opens it again.
    pub fn with_hands(self, work: impl FnOnce(&H)) -> Self {
        self.store.close();
        work(&self.host);
        let store = self.host.open(Mode::Service);
        Self { host: self.host, store }
    }

    pub fn enroll(&self, client: &str) -> FollowUpId {
        let client = fadewatch::care::ClientRef::new(client).unwrap();
        self.store.write_blocking(move |tx| sample::enroll(tx, &client)).unwrap()
    }

    /// Lets whatever is due at an instant happen, and journals it.
    pub fn clock(&self, follow_up: FollowUpId, now: Instant) -> Appended {
        self.store.write_blocking(move |tx| sample::clock(tx, follow_up, now)).unwrap()
    }

    pub fn load(&self, follow_up: FollowUpId) -> Loaded {
        self.store.read_blocking(|view| view.load(follow_up)).unwrap()
    }
}

impl InAFile {
    pub fn folder(&self) -> &std::path::Path {
        match &self.0 {
            Folder::Own(folder) => folder.path(),
            Folder::Known(folder) => folder,
        }
    }

    fn file(&self) -> rusqlite::Connection {
        rusqlite::Connection::open(self.folder().join(DATABASE)).unwrap()
    }
}

impl Host for InAFile {
    fn new() -> Self {
        Self(Folder::Own(tempfile::tempdir().unwrap()))
    }

    fn open(&self, mode: Mode) -> Store {
        Store::open(self.folder(), mode).unwrap()
    }

    fn told(&self) -> String {
        self.folder().display().to_string()
    }

    fn from_told(told: &str) -> Self {
        Self(Folder::Known(told.into()))
    }

    fn run(&self, sql: &str) -> Result<usize, String> {
        self.file().execute(sql, []).map_err(|error| error.to_string())
    }

    fn tamper(&self, sql: &str) -> usize {
        tampered(&self.file(), sql)
    }

    fn bytes(&self) -> Vec<u8> {
        std::fs::read(self.folder().join(DATABASE)).unwrap()
    }
}

fn tampered(file: &rusqlite::Connection, sql: &str) -> usize {
    file.execute_batch(
        "PRAGMA foreign_keys = OFF;
         DROP TRIGGER journal_is_never_changed; DROP TRIGGER journal_is_never_deleted;
         DROP TRIGGER occasion_is_never_changed; DROP TRIGGER occasion_is_never_deleted;",
    )
    .unwrap();
    file.execute(sql, []).unwrap()
}

#[cfg(feature = "encryption")]
impl InAnEncryptedFile {
    fn file(&self) -> rusqlite::Connection {
        let file = self.0.file();
        file.pragma_update(None, "key", format!("x'{KEY}'")).unwrap();
        file
    }
}

#[cfg(feature = "encryption")]
impl Host for InAnEncryptedFile {
    fn new() -> Self {
        Self(InAFile::new())
    }

    fn open(&self, mode: Mode) -> Store {
        let key = fadewatch::store::DataKey::parse(KEY).unwrap();
        Store::open_encrypted(self.0.folder(), &key, mode).unwrap()
    }

    fn told(&self) -> String {
        self.0.told()
    }

    fn from_told(told: &str) -> Self {
        Self(InAFile::from_told(told))
    }

    fn run(&self, sql: &str) -> Result<usize, String> {
        self.file().execute(sql, []).map_err(|error| error.to_string())
    }

    fn tamper(&self, sql: &str) -> usize {
        tampered(&self.file(), sql)
    }

    /// What a reader with the key finds.
    fn bytes(&self) -> Vec<u8> {
        let plain = self.0.folder().join("plain");
        let file = self.file();
        file.execute("ATTACH ?1 AS plain KEY ''", [plain.to_str().unwrap()]).unwrap();
        file.query_row("SELECT sqlcipher_export('plain')", [], |_| Ok(())).unwrap();
        drop(file);
        let bytes = std::fs::read(&plain).unwrap();
        std::fs::remove_file(&plain).unwrap();
        bytes
    }
}

impl OnAServer {
    pub fn schema(&self) -> &Schema {
        &self.schema
    }
}

impl Host for OnAServer {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap(), schema: Schema::new() }
    }

    fn open(&self, mode: Mode) -> Store {
        Store::open_on(&self.schema.server(), self.folder.path(), mode).unwrap()
    }

    fn told(&self) -> String {
        self.schema.told()
    }

    fn from_told(told: &str) -> Self {
        Self { folder: tempfile::tempdir().unwrap(), schema: Schema::known(told) }
    }

    fn run(&self, sql: &str) -> Result<usize, String> {
        self.schema.run(&turned(sql))
    }

    fn tamper(&self, sql: &str) -> usize {
        // Triggers and references rest in such a session; only the server's administrator may.
        self.schema
            .run(&format!("SET session_replication_role = replica; {}", turned(sql)))
            .unwrap()
    }

    fn bytes(&self) -> Vec<u8> {
        let tables = "token, inbox, inbox_mail, outbox, outbox_mail, person, meta";
        let each = tables.split(", ").map(|table| {
            self.schema.asked(&format!("SELECT row_to_json(t) FROM {table} t")).unwrap()
        });
        each.collect::<String>().into_bytes()
    }
}

/// The tests' own SQL in the server's words.
fn turned(sql: &str) -> String {
    sql.replace("x'7b7d'", "'{}'")
        .replace("x'00'", "'\\x00'")
        .replace("x''", "''")
        .replace("zeroblob(32)", "decode(repeat('00', 32), 'hex')")
}
