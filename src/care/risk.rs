//! Risk levels and the published risk scales that a clinic may map to them.
//!
//! Never here: the ladder of a level (that is the plan's).
//! Promises: a level is a short lower-case name; which levels exist is what the plan says.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The name of a risk level, such as `high` or `very-high`; a key of the plan's `risk` table.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RiskLevel(String);

/// Why a text is not the name of a risk level.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a risk level is a name of lower-case letters, digits and `-`, such as `very-high`")]
pub struct RiskLevelError;

impl RiskLevel {
    /// Reads a level's name.
    ///
    /// # Errors
    /// When the text is empty or holds anything but lower-case letters, digits and `-`.
    pub fn new(text: &str) -> Result<Self, RiskLevelError> {
        let fits = (1..=40).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-');
        if fits { Ok(Self(text.to_owned())) } else { Err(RiskLevelError) }
    }

    /// The name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for RiskLevel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A published scale of pressure-injury risk.
///
/// Ranges and directions: Braden 6–23, Norton 5–20, Waterlow 1–64 as tabulated in the AHRQ
/// evidence review (NCBI Bookshelf NBK143566); SCIPUS 0–25 (range from memory: Salzberg 1996).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RiskScale {
    /// Braden: 6 to 23, lower is worse.
    Braden,
    /// Norton: 5 to 20, lower is worse.
    Norton,
    /// Waterlow: 1 to 64, higher is worse.
    Waterlow,
    /// Spinal cord injury pressure ulcer scale: 0 to 25, higher is worse.
    Scipus,
}

impl RiskScale {
    /// All scales.
    pub const ALL: [Self; 4] = [Self::Braden, Self::Norton, Self::Waterlow, Self::Scipus];

    /// The scale's name in TOML.
    pub fn name(self) -> &'static str {
        match self {
            Self::Braden => "braden",
            Self::Norton => "norton",
            Self::Waterlow => "waterlow",
            Self::Scipus => "scipus",
        }
    }

    /// Lowest and highest score, both possible.
    pub fn range(self) -> (u32, u32) {
        match self {
            Self::Braden => (6, 23),
            Self::Norton => (5, 20),
            Self::Waterlow => (1, 64),
            Self::Scipus => (0, 25),
        }
    }
}
