//! The key of an encrypted database file.
//!
//! Never here: where a key comes from; what is kept.
//! Promises: a key is 256 random bits and no words to be guessed; it is in no error, no log and no
//! `Debug`; a program that cannot encrypt takes no key, so that nothing is kept in the clear under one.

use std::fmt;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::error::{Doing, StoreError};

/// Whether this program can encrypt: it was built with the feature `encryption`.
pub const CAN_ENCRYPT: bool = cfg!(feature = "encryption");

/// Hexadecimal digits of a key.
const DIGITS: usize = 64;

/// How a database file that is not encrypted begins (SQLite's file format, section 1.3.1).
const PLAIN: &[u8; 16] = b"SQLite format 3\0";

/// The key of an encrypted database file: 256 bits. Copies share it.
#[derive(Clone)]
pub struct DataKey(Arc<str>);

/// Why a text is no key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BadKey {
    /// This program cannot encrypt.
    #[error("this program was built without encryption")]
    NotBuiltIn,
    /// The text is not 64 hexadecimal digits.
    #[error(
        "a key is {DIGITS} hexadecimal digits (32 random bytes), and this is something else; make one \
         with `openssl rand -hex 32`"
    )]
    NotAKey,
}

impl DataKey {
    /// Takes a key as 64 hexadecimal digits.
    ///
    /// # Errors
    /// When it is something else, or this program cannot encrypt.
    pub fn parse(text: &str) -> Result<Self, BadKey> {
        if text.len() != DIGITS || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(BadKey::NotAKey);
        }
        if !CAN_ENCRYPT {
            return Err(BadKey::NotBuiltIn);
        }
        Ok(Self(text.into()))
    }
}

impl fmt::Debug for DataKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("DataKey(…)")
    }
}

/// A database file, with the key that opens it where it is encrypted.
#[derive(Clone, Debug)]
pub(super) struct DataFile {
    pub(super) path: PathBuf,
    pub(super) key: Option<DataKey>,
}

impl DataFile {
    /// A file and its key.
    pub(super) fn new(path: impl Into<PathBuf>, key: Option<&DataKey>) -> Self {
        Self { path: path.into(), key: key.cloned() }
    }

    /// A copy that may be older than the key: one that is not encrypted needs none.
    pub(super) fn copy(path: &Path, key: Option<&DataKey>) -> Self {
        Self::new(path, key.filter(|_| !is_plain(path)))
    }

    /// Shows a connection the key, before anything is read.
    pub(super) fn unlock(&self, connection: &rusqlite::Connection) -> Result<(), StoreError> {
        let Some(DataKey(digits)) = &self.key else { return Ok(()) };
        if is_plain(&self.path) {
            return Err(StoreError::NotEncrypted { path: self.path.clone() });
        }
        // Bytes, not a passphrase: nothing has to be stretched at each opening.
        let shown = connection
            .pragma_update(None, "cipher_log_level", "NONE")
            .and_then(|()| connection.pragma_update(None, "key", format!("x'{digits}'")));
        // The database's own words would quote the statement, and with it the key.
        shown.map_err(without_words).doing("taking the key of the database")
    }
}

/// Whether a file is a database that anybody can read.
pub fn is_plain(path: &Path) -> bool {
    let mut begins = [0; PLAIN.len()];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut begins));
    read.is_ok() && begins == *PLAIN
}

fn without_words(error: rusqlite::Error) -> rusqlite::Error {
    let code = error.sqlite_error().copied();
    rusqlite::Error::SqliteFailure(code.unwrap_or(rusqlite::ffi::Error::new(1)), None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_bits_are_a_key_and_no_words_show_what_was_given() {
        for text in ["", "a passphrase", &"0".repeat(63), &"g".repeat(64), &"0".repeat(65)] {
            let refused = DataKey::parse(text).unwrap_err();
            assert_eq!(refused, BadKey::NotAKey);
            assert!(text.is_empty() || !refused.to_string().contains(text));
        }
        let key = DataKey::parse(&"5a".repeat(32));
        assert_eq!(key.is_ok(), CAN_ENCRYPT);
        assert!(!format!("{key:?}").contains("5a5a"));
    }
}
