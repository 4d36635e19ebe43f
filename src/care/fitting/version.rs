//! The version of a fitting: what the journal has of it.
//!
//! Never here: how the hash is worked out.
//! Promises: two records that say the same have the same version.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The content hash of a fitting (SHA-256, lower-case hexadecimal). A follow-up tests one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct FittingVersion(String);

impl FittingVersion {
    /// Wraps a hash that was worked out by the room that reads fittings, or stored earlier.
    pub fn from_hash(hash: String) -> Self {
        Self(hash)
    }

    /// The whole hash.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The first twelve characters, for people.
    pub fn short(&self) -> &str {
        self.0.get(..12).unwrap_or(&self.0)
    }
}

impl fmt::Display for FittingVersion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.short())
    }
}
