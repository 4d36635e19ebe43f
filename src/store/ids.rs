//! Numbers by which the store knows its records, and the form in which it keeps instants.
//!
//! Never here: numbers of looks, sittings and alerts (those are the core's).
//! Promises: a number is given once and never used for another record.

use std::fmt;

use chrono::DateTime;

use super::error::StoreError;
use crate::follow_up::Instant;

macro_rules! number {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(i64);

        impl $name {
            /// The number itself, for logs and for references in an occasion's detail.
            pub fn number(self) -> i64 {
                self.0
            }

            /// A number that was written down earlier; the store checks it when it is used.
            pub fn from_number(number: i64) -> Self {
                Self(number)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    };
}

number! {
    /// A follow-up.
    FollowUpId
}
number! {
    /// An occasion: what made entries, or a clinic-level act.
    OccasionId
}
number! {
    /// The place of an entry in the whole journal.
    JournalSeq
}
number! {
    /// A mail to a person.
    OutboxId
}
number! {
    /// A mail from a person.
    InboxId
}

/// An instant as the store keeps it.
pub(super) fn to_ms(at: Instant) -> i64 {
    at.timestamp_millis()
}

/// An instant that the store kept.
pub(super) fn from_ms(ms: i64) -> Result<Instant, StoreError> {
    DateTime::from_timestamp_millis(ms).ok_or_else(|| StoreError::unreadable("instant", ms))
}
