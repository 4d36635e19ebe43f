//! Numbers by which a follow-up knows its own sittings, looks and alerts.
//!
//! Never here: references to people (those are in `care`).
//! Promises: numbers are given in order and never used twice within one follow-up.

use std::fmt;

use serde::{Deserialize, Serialize};

macro_rules! number {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        #[serde(transparent)]
        pub struct $name(u32);

        impl $name {
            /// The number with this count.
            pub fn new(count: u32) -> Self {
                Self(count)
            }

            /// The count.
            pub fn count(self) -> u32 {
                self.0
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
    /// A sitting, counted from 1 over those that begin.
    SittingNumber
}
number! {
    /// A look, counted from 1 in the order in which looks come to be planned.
    LookId
}
number! {
    /// A step of the ladder, counted from 1.
    StepNumber
}
number! {
    /// An alert, counted from 1.
    AlertId
}
