//! The hash chain of one follow-up's entries: each hash covers the entry, what made it, and the
//! hash before it.
//!
//! Never here: SQL.
//! Promises: a changed, missing, added or moved entry shows from there on; the hashes of entries
//! once written can be worked out by every later version.

use std::fmt;

use sha2::{Digest as _, Sha256};

use crate::care::ClientRef;

/// Opens the chain of every follow-up, so that its hashes cannot be mistaken for others.
const ROOT: &[u8] = b"fadewatch journal 1\n";

/// A SHA-256 hash.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Digest([u8; 32]);

impl Digest {
    /// A hash that was kept.
    pub(super) fn kept(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The hash's bytes.
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// The hash of some bytes.
    pub(super) fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }
}

impl fmt::Display for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl fmt::Debug for Digest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Digest({self})")
    }
}

/// Where a chain begins: it belongs to one client and no other.
pub(super) fn root(client: &ClientRef) -> Digest {
    let mut hash = Sha256::new();
    hash.update(ROOT);
    add(&mut hash, client.as_str().as_bytes());
    Digest(hash.finalize().into())
}

/// The hash of an occasion, by which the entries that it made are bound to it.
pub(super) fn of_occasion(kind: &str, at_ms: i64, detail: &str) -> Digest {
    let mut hash = Sha256::new();
    add(&mut hash, kind.as_bytes());
    hash.update(at_ms.to_be_bytes());
    add(&mut hash, detail.as_bytes());
    Digest(hash.finalize().into())
}

/// What an entry's hash covers.
pub(super) struct Link<'a> {
    pub(super) number: u64,
    pub(super) at_ms: i64,
    pub(super) rule: &'a str,
    pub(super) occasion: Digest,
    pub(super) body: &'a [u8],
}

/// The hash of the entry that follows another.
pub(super) fn next(before: &Digest, link: &Link<'_>) -> Digest {
    let mut hash = Sha256::new();
    hash.update(before.0);
    hash.update(link.number.to_be_bytes());
    hash.update(link.at_ms.to_be_bytes());
    add(&mut hash, link.rule.as_bytes());
    hash.update(link.occasion.0);
    add(&mut hash, link.body);
    Digest(hash.finalize().into())
}

/// Adds bytes with their length, so that no two lists of fields read the same.
fn add(hash: &mut Sha256, bytes: &[u8]) {
    hash.update((bytes.len() as u64).to_be_bytes());
    hash.update(bytes);
}
