//! References to people: short ids that the clinic chooses. No names, no addresses.
//!
//! Never here: names, mail addresses, anything personal.
//! Promises: an id is 1 to 40 letters, digits, `-`, `_` or `.`, so it is safe in a subject line,
//! a file name and a journal entry.

use std::fmt;

use serde::{Deserialize, Serialize};

/// Longest id, in characters; more would not fit a phone's subject line.
const ID_CHARS_MAX: usize = 40;

/// Why a text is not an id.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "an id is 1 to {ID_CHARS_MAX} letters, digits, `-`, `_` or `.`, and starts with a letter or digit"
)]
pub struct IdError;

fn checked(text: &str) -> Result<String, IdError> {
    let fits = (1..=ID_CHARS_MAX).contains(&text.chars().count())
        && text.starts_with(|c: char| c.is_ascii_alphanumeric())
        && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.'));
    if fits { Ok(text.to_owned()) } else { Err(IdError) }
}

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(String);

        impl $name {
            /// Reads an id.
            ///
            /// # Errors
            /// When the text is empty, too long or holds anything but letters, digits, `-`, `_`, `.`.
            pub fn new(text: &str) -> Result<Self, IdError> {
                checked(text).map(Self)
            }

            /// The id as text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
    };
}

id! {
    /// The clinic's reference for a client, unique within the clinic.
    ClientRef
}
id! {
    /// A contact of one client (caregiver, or the client), unique within that client.
    ContactId
}
id! {
    /// A clinician of the clinic.
    ClinicianId
}
