//! What kind of message a reply answers; the same words mean different things to each.
//!
//! Never here: wording, the rules of a follow-up.
//! Promises: the names are those of the reply fixtures and of the `taps` tables.

use std::fmt;
use std::str::FromStr;

/// The kind of message that a person replies to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Answering {
    /// The announcement that a sitting is about to begin.
    Start,
    /// The first look after or during a sitting, or a routine look.
    Look,
    /// The second look at a mark.
    Recheck,
    /// A stop-and-review alert or another notice to a clinician.
    Alert,
}

impl Answering {
    /// All kinds.
    pub const ALL: [Self; 4] = [Self::Start, Self::Look, Self::Recheck, Self::Alert];

    /// The name used in fixtures, language files and on the command line.
    pub fn name(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Look => "look",
            Self::Recheck => "recheck",
            Self::Alert => "alert",
        }
    }
}

impl fmt::Display for Answering {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A text that names no kind of message.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not a kind of message; use start, look, recheck or alert")]
pub struct UnknownAnswering(pub String);

impl FromStr for Answering {
    type Err = UnknownAnswering;

    fn from_str(text: &str) -> Result<Self, UnknownAnswering> {
        Self::ALL
            .into_iter()
            .find(|kind| kind.name() == text)
            .ok_or_else(|| UnknownAnswering(text.to_owned()))
    }
}
